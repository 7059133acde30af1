package shop_test

import (
	"fmt"

	"ductward/internal/shop"
)

func ExampleParse() {
	_, problems := shop.Parse("shop.yaml", []byte(`shop: Corner Joinery
collectors:
  - collector: main
    rating: 4
    sensors:
      - {sensor: filter drop, measures: filter dorp, from: by hand}
`))
	for _, p := range problems {
		fmt.Println(p)
	}
	// Output:
	// shop.yaml:4: collector "main": rating 4 has no unit; write one of Pa, kPa, hPa, mbar, bar, mmH2O, inH2O, mmHg, inHg, psi, such as "4 Pa"
	// shop.yaml:6: sensor "filter drop": measures "filter dorp" is not known; did you mean "filter drop"?
}

func ExampleCollector_SettingFor() {
	s, _, err := shop.Load("../../hardware/rig/shop.yaml")
	if err != nil || s == nil {
		fmt.Println("the demo's shop cannot be read", err)
		return
	}
	c := s.Collectors[0]
	st, err := c.SettingFor([]string{"tenoner", "sander gate"})
	fmt.Println(st.Open, st.Port, err)
	for _, r := range c.PathOf("tenoner")[:2] {
		fmt.Printf("%s: %.0f mm, %.1f m\n", r.Name, r.Diameter*1000, r.Length)
	}
	// Output:
	// map[moulder gate:true sander gate:true] map[moulder hose:2] <nil>
	// moulder hose line: 160 mm, 3.0 m
	// moulder drop: 160 mm, 3.2 m
}

package plant

import "fmt"

// A plant as drawn, with one gate open: first sound, then with a seam that passes 36 m³/h at 1500 Pa.
func Example() {
	p, err := New(workshop(), site, Exact())
	if err != nil {
		fmt.Println(err)
		return
	}
	p.SetFan(true)
	for _, leak := range []float64{0, 0.01} {
		if err := p.SetGate("planer gate", true); err != nil {
			fmt.Println(err)
		}
		if err := p.SetLeak("run:trunk 2", leak); err != nil {
			fmt.Println(err)
		}
		t, err := p.Truth()
		if err != nil {
			fmt.Println(err)
		}
		fmt.Printf("fan %.0f m3/h, filter drop %.0f Pa, trunk %.0f Pa, leakage %.0f m3/h\n",
			t.FanFlow*3600, p.Mean("main/filter"), p.Mean("main/trunk"), t.Leakage*3600)
	}
	// Output:
	// fan 1813 m3/h, filter drop 262 Pa, trunk -1623 Pa, leakage 222 m3/h
	// fan 1830 m3/h, filter drop 264 Pa, trunk -1605 Pa, leakage 254 m3/h
}

package bound_test

import (
	"fmt"

	"ductward/internal/air"
	"ductward/internal/bound"
	"ductward/internal/shop"
)

// Example asks how well a week of running tells a leak in a trunk, with two sensors and with a third.
func Example() {
	s, _, err := shop.Load("../../testdata/shops/trunk-three-drops.yaml")
	if err != nil {
		fmt.Println(err)
		return
	}
	c := s.Collectors[0]
	c.Sensors = []*shop.Sensor{
		{Name: "filter", Measures: shop.FilterDrop},
		{Name: "trunk", Measures: shop.StaticPressure, Run: "trunk2"},
		{Name: "far", Measures: shop.StaticPressure, Run: "saw_drop"},
	}
	sets, alone := bound.Settings(c)
	all, err := bound.Respond(c, sets, 1.5, air.Reference(), bound.UsualNoise(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, sensors := range []int{2, 3} {
		r := all.Only(func(ch bound.Channel) bool { return sensors == 3 || ch.Name != "main/far" }, nil)
		week := bound.UsualHabits().Week(r, alone)
		record, err := bound.NewRecord(r, append(append(week[:5:5], week...), week...)) // two weeks of baseline and one after it
		if err != nil {
			fmt.Println(err)
			return
		}
		space, err := record.Space(bound.Step(10, 5))
		if err != nil {
			fmt.Println(err)
			return
		}
		leak := r.Find(bound.Leak, "run:trunk1")
		fmt.Printf("%d sensors: 50 m³/h in trunk1 is known to %.0f m³/h\n", sensors, 3600*space.SD(leak, 50.0/3600))
	}
	// Output:
	// 2 sensors: 50 m³/h in trunk1 is known to 4 m³/h
	// 3 sensors: 50 m³/h in trunk1 is known to 3 m³/h
}

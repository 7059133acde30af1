package duct_test

import (
	"fmt"
	"math"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// A sash-window workshop with two machines on a ring: what each gets when the other opens.
func ExampleModel_Solve() {
	m, err := duct.New(ringMain())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, open := range []map[string]bool{
		{"tenoner gate": true},
		{"tenoner gate": true, "moulder gate": true},
	} {
		r, err := m.Solve(duct.State{Setting: shop.Setting{Open: open}})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("fan %.0f m³/h, inlet %.0f Pa, filter %.0f Pa\n", r.FanFlow*3600, r.InletStatic, r.FilterDrop)
		for _, machine := range r.Machines {
			fmt.Printf("  %s %.0f m³/h\n", machine.Name, math.Abs(machine.Flow*3600))
		}
	}
	// Output:
	// fan 2322 m³/h, inlet -1635 Pa, filter 369 Pa
	//   tenoner 2322 m³/h
	//   moulder 0 m³/h
	// fan 2916 m³/h, inlet -1255 Pa, filter 463 Pa
	//   tenoner 1451 m³/h
	//   moulder 1466 m³/h
}

package quantity_test

import (
	"fmt"

	"ductward/internal/quantity"
)

func Example() {
	q, err := quantity.Parse(quantity.Flow, "500 cfm")
	fmt.Printf("%.4f m³/s %v\n", q, err)
	fmt.Println(quantity.FormatSpread(quantity.Flow, q, q/40, "l/s"))
	_, err = quantity.Parse(quantity.Length, "160")
	fmt.Println(err)
	// Output:
	// 0.2360 m³/s <nil>
	// 236 ± 6 l/s
	// 160 has no unit; write one of mm, cm, m, in, ft, um, such as "160 mm"
}

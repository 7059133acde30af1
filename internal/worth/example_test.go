package worth_test

import (
	"fmt"

	"ductward/internal/shop"
	"ductward/internal/worth"
)

// Example asks what a shop with two collectors could add to the sensors of one of them.
func Example() {
	s, _, err := shop.Load("../../testdata/shops/two-collectors.yaml")
	if err != nil {
		fmt.Println(err)
		return
	}
	q, err := worth.Usual(s.Site)
	if err != nil {
		fmt.Println(err)
		return
	}
	q.Draws = 50
	a, err := worth.Of(s.Collectors[0], q)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("as it is: a leak of %.0f m³/h is found in a week\n", 3600*a.Now.Week)
	fmt.Printf("with %s: one of less than 20 m³/h: %v\n", a.Candidates[0].Kind, 3600*a.Candidates[0].Figures.Week < 20)
	fmt.Printf("not proposed: %s\n", a.Refused[0].Text)
	// Output:
	// as it is: a leak of 162 m³/h is found in a week
	// with far-tap: one of less than 20 m³/h: true
	// not proposed: the fan running with every gate shut
}

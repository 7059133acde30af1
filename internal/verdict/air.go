package verdict

import (
	"ductward/internal/air"
	"ductward/internal/shop"
)

// The densest air that a shop works in, in which its fan pulls hardest: an unheated shop on a frosty morning under a high
// barometer (own choices).
const (
	coldest          = 263.15 // K
	highestBarometer = 1.035  // on the standard pressure at the shop's altitude
)

// DensestAir is the densest air that a shop is judged in before a set of gates is proposed that it does not run anyway.
func DensestAir(site shop.Site) (air.State, error) {
	return air.At(coldest, highestBarometer*air.PressureAt(site.Altitude), site.Humidity)
}

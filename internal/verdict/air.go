package verdict

import (
	"ductward/internal/air"
	"ductward/internal/duct"
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

// What a set of gates is judged with before it is proposed, or said to be borne, is the worst that may be, since a duct that
// collapses does so once: ducts tighter, runs rougher and a filter cleaner than they are drawn. Own choices; the filter is a
// new one before its cake.
const (
	leastLeakage = 0.2 // of the leakage as designed
	mostLosses   = 1.2 // on the losses of all runs
	cleanest     = 0.5 // on the resistance of the clean filter
)

// Harshest is the state in which the suction of a set of gates is judged, in an air that should be DensestAir's. The set is
// the caller's to fill in, and a fan that is stronger than its curve.
func Harshest(a air.State) duct.State {
	return duct.State{Air: a, FilterRatio: cleanest, LeakFactor: leastLeakage, LossFactor: mostLosses}
}

package duct

import (
	"math"

	"ductward/internal/shop"
)

// hoseBend is the factor of a bend of hose over a smooth one of the same radius: Idelchik, Handbook of Hydraulic
// Resistance, diagram 6-1 (from memory), doubles a bend whose wall is rougher than 0.001 of its diameter. The friction
// along it is that of the run's length, which counts the bend.
const hoseBend = 2.0

// The diameters (m) of the hoses whose compression was measured.
const (
	leastHoseTested = 0.150
	mostHoseTested  = 0.250
)

// hoseFactor is the factor on the friction of a run that hose has because it is not pulled out: as stated, or
//
//	1 + 58·(1 - share)·exp(-0.126·D/1 in)
//
// by Abushakra, Walker and Sherman, HVAC&R Research 10 (2004) no. 3 (constants from memory; their abstract has a factor
// of four for moderate compression and close to ten for more, which it gives at 15 and 30 % in 6 in). Tested from 150
// to 250 mm; smaller and larger hose is taken as the nearest of these.
func hoseFactor(r *shop.Run) float64 {
	if r.Pulled > 0 && r.Pulled < 1 {
		inches := math.Max(leastHoseTested, math.Min(mostHoseTested, r.Diameter)) / 0.0254
		return 1 + 58*(1-r.Pulled)*math.Exp(-0.126*inches)
	}
	if r.Stretch >= 1 {
		return r.Stretch
	}
	return 1
}

package duct

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/shop"
)

// Flexible duct of 6, 8 and 10 in: moderate compression as often installed raises the loss by a factor of four, more of
// it close to ten; the factor depends on the diameter (Abushakra, Walker and Sherman, HVAC&R Research 10 (2004) no. 3,
// abstract). At up to 45 % some lose over ten times (Weaver and Culp, Texas A&M University, 2006, abstract).
func TestCompressedHose(t *testing.T) {
	factor := func(diameter, share float64) float64 {
		return hoseFactor(&shop.Run{Diameter: diameter, Stretch: 1, Pulled: share})
	}
	for _, d := range []float64{0.150, 0.200, 0.250} {
		moderate := factor(d, 0.85)
		assert.Greater(t, moderate, 2.0, "%g m", d)
		assert.Less(t, moderate, 5.2, "%g m: about four, 2 to 5", d)
		assert.Equal(t, 1.0, factor(d, 1))
	}
	assert.InEpsilon(t, 4, factor(0.2, 0.85), 0.1)
	assert.InEpsilon(t, 10, factor(0.15, 0.70), 0.1)
	assert.Greater(t, factor(0.15, 0.55), 10.0)
	assert.Greater(t, factor(0.15, 0.8), factor(0.25, 0.8), "small hose suffers more")
	assert.Equal(t, factor(0.15, 0.8), factor(0.1, 0.8), "not tested below 6 in: held")
	assert.Equal(t, factor(0.25, 0.8), factor(0.4, 0.8), "nor above 10 in")
}

func TestStatedStretchHolds(t *testing.T) {
	assert.Equal(t, 1.3, hoseFactor(&shop.Run{Diameter: 0.1, Stretch: 1.3}))
	assert.Equal(t, 1.0, hoseFactor(&shop.Run{Diameter: 0.1}))
}

// A bend whose wall is rougher than 0.001 of its diameter loses twice that of a smooth one (Idelchik, Handbook of
// Hydraulic Resistance, diagram 6-1, from memory).
func TestBendOfHose(t *testing.T) {
	assert.InEpsilon(t, 2, sumOf(t, bend(90, shop.HoseElbow))/sumOf(t, bend(90, shop.SmoothElbow)), 1e-12)
	assert.InEpsilon(t, 0.6, sumOf(t, bend(45, shop.HoseElbow))/sumOf(t, bend(90, shop.HoseElbow)), 1e-12)
}

package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/shop"
)

// ASHRAE 1988, system effect of a square elbow without vanes at a fan's inlet, of velocity pressure: without, with 2
// and with 5 diameters of duct between.
func TestSquareElbowAtTheFan(t *testing.T) {
	for ratio, want := range map[float64][3]float64{
		0.5: {2.50, 1.60, 0.80}, 0.75: {2.00, 1.20, 0.66}, 1: {1.20, 0.66, 0.33}, 2: {0.80, 0.47, 0.26},
	} {
		for i, straight := range []float64{0, 2, 5} {
			in := shop.FanInlet{Diameter: 0.2, Coefficient: math.NaN(), Square: true, RadiusRatio: ratio, Straight: straight}
			assert.InDelta(t, want[i], inletLoss(&in), 1e-12, "R/H %g, %g diameters", ratio, straight)
		}
	}
}

// The tables for round elbows are from memory (AMCA 201, as ASHRAE reprints it); what they must do all the same: fall
// with the straight duct and with the radius, and leave nothing at ten diameters.
func TestRoundElbowAtTheFan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := shop.FanInlet{
			Diameter: 0.2, Coefficient: math.NaN(), RadiusRatio: rapid.Float64Range(0.5, 3).Draw(t, "R/D"),
			Make: shop.ElbowMake(rapid.IntRange(0, 2).Draw(t, "make")), Pieces: rapid.IntRange(2, 6).Draw(t, "pieces"),
			Straight: rapid.Float64Range(0, 9).Draw(t, "straight"),
		}
		k := inletLoss(&in)
		further, wider, far := in, in, in
		further.Straight += 0.5
		wider.RadiusRatio += 0.1
		far.Straight = 10
		assert.Greater(t, k, inletLoss(&further))
		assert.GreaterOrEqual(t, k, inletLoss(&wider)-1e-12)
		assert.InDelta(t, 0, inletLoss(&far), 1e-12)
		mitred := in
		mitred.Make = shop.MitredElbow
		assert.GreaterOrEqual(t, inletLoss(&mitred), k)
	})
}

// What the inlet takes is a loss on the velocity pressure there: it goes with the density and the square of the flow,
// whatever the speed, and leaves the slope right. The power at the shaft does not know of it.
func TestWhatAPoorInletTakes(t *testing.T) {
	good := points(shop.Smooth, usualPoints...)
	bad := good
	bad.Inlet = &shop.FanInlet{Diameter: 0.25, Coefficient: 1.2}
	a, err := newFanCurve(good)
	require.NoError(t, err)
	b, err := newFanCurve(bad)
	require.NoError(t, err)
	v := 0.6 / circle(0.25)
	for _, density := range []float64{1.2, 0.9} {
		for _, speed := range []float64{1, 0.8} {
			straight, _ := a.moved(0.6, density, speed)
			poor, slope := b.moved(0.6, density, speed)
			assert.InDelta(t, 1.2*density/2*v*v, straight-poor, 1e-9)
			up, _ := b.moved(0.6+1e-6, density, speed)
			down, _ := b.moved(0.6-1e-6, density, speed)
			assert.InDelta(t, (up-down)/2e-6, slope, 0.5)
		}
	}
	p, _ := a.shaft(0.6, 1.2, 1)
	same, _ := b.shaft(0.6, 1.2, 1)
	assert.Equal(t, p, same)
	backwards, slope := b.moved(-0.1, 1.2, 1)
	standing, _ := b.moved(0, 1.2, 1)
	assert.Greater(t, backwards, standing)
	assert.Negative(t, slope)
	for _, in := range []shop.FanInlet{{Coefficient: 1}, {Diameter: 0.2, Coefficient: -1}} {
		bad.Inlet = &in
		_, err := newFanCurve(bad)
		assert.ErrorContains(t, err, "fan inlet")
	}
}

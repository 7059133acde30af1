package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/shop"
)

// rated is a fan curve with an efficiency at each point but the first.
func rated() shop.Fan {
	f := shop.Fan{Density: 1.2}
	for _, p := range [][3]float64{{0, 2600, 0}, {0.25, 2500, 0.45}, {0.5, 2000, 0.60}, {0.75, 1200, 0.50}, {1, 300, 0.2}} {
		f.Points = append(f.Points, shop.CurvePoint{Flow: p[0], Pressure: p[1], Power: math.NaN(), Efficiency: p[2]})
	}
	return f
}

// Air power is Q·p: 0.5 m³/s at 2000 Pa is 1 kW, at an efficiency of 0.60 from 1667 W at the shaft, at one of 0.88 of
// motor and drive from 1894 W of electricity.
func TestPowerFromEfficiency(t *testing.T) {
	f := rated()
	f.Motor = 0.88
	c, err := newFanCurve(f)
	require.NoError(t, err)
	require.True(t, c.knowsPower())
	shaft, _ := c.shaft(0.5, 1.2, 1)
	assert.InEpsilon(t, 1667, shaft, 0.001)
	electric, _ := c.metered(0.5, 1.2, 1)
	assert.InEpsilon(t, 1667/0.88, electric, 0.001)
	// The fan laws (AMCA): 0.729 at nine tenths of the speed; in proportion to the density.
	slow, _ := c.shaft(0.45, 1.2, 0.9)
	assert.InEpsilon(t, 0.729, slow/shaft, 1e-9)
	thin, _ := c.shaft(0.5, 1.1, 1)
	assert.InEpsilon(t, 1.1/1.2, thin/shaft, 1e-9)
	// With no flow it still draws power, since the efficiency falls to nothing with it.
	none, _ := c.shaft(0, 1.2, 1)
	assert.InEpsilon(t, 2600*0.25/0.45, none, 1e-9)

	constant := points(shop.StraightLines, usualPoints...)
	for i := range constant.Points {
		constant.Points[i].Power = math.NaN()
	}
	constant.Efficiency = 0.55
	c, err = newFanCurve(constant)
	require.NoError(t, err)
	rise, _ := c.at(0.6)
	power, _ := c.shaft(0.6, 1.2, 1)
	assert.InEpsilon(t, rise*0.6/0.55, power, 1e-12)
	constant.Efficiency = 0
	c, err = newFanCurve(constant)
	require.NoError(t, err)
	assert.False(t, c.knowsPower())
}

// Between and beyond the points power has no jump, and its slope is its derivative.
func TestPowerSlope(t *testing.T) {
	f := rated()
	f.Between = shop.Smooth
	c, err := newFanCurve(f)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.Float64Range(-0.2, 1.3).Draw(t, "q")
		power, slope := c.shaft(q, 1.1, 0.9)
		const h = 1e-7
		up, slopeUp := c.shaft(q+h, 1.1, 0.9)
		down, slopeDown := c.shaft(q-h, 1.1, 0.9)
		assert.InDelta(t, power, up, 0.01)
		if abs(slopeUp-slopeDown) < 1 { // not at a corner between straight lines of the efficiency
			assert.InDelta(t, (up-down)/(2*h), slope, 1+1e-4*abs(slope))
		}
	})
}

package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/shop"
)

func points(between shop.Interpolation, numbers ...float64) shop.Fan {
	f := shop.Fan{Density: 1.2, Between: between}
	for i := 0; i < len(numbers); i += 2 {
		f.Points = append(f.Points, shop.CurvePoint{Flow: numbers[i], Pressure: numbers[i+1], Power: 1000 + 2000*numbers[i]})
	}
	return f
}

var usualPoints = []float64{0, 2600, 0.2, 2560, 0.4, 2375, 0.6, 1985, 0.8, 1320, 1, 330}

// The fan laws (AMCA): flow goes with the speed, pressure with its square, power with its cube; both with the density.
func TestFanLaws(t *testing.T) {
	c, err := newFanCurve(points(shop.StraightLines, usualPoints...))
	require.NoError(t, err)
	rise, _ := c.moved(0.5, 1.2, 1)
	slower, _ := c.moved(0.5*0.9, 1.2, 0.9)
	assert.InEpsilon(t, 0.81, slower/rise, 1e-12, "2900 to 2610 rpm")
	power, _ := c.shaft(0.5, 1.2, 1)
	less, _ := c.shaft(0.5*0.9, 1.2, 0.9)
	assert.InEpsilon(t, 0.729, less/power, 1e-12)
	// Sea level to 1000 m in the standard atmosphere (ISO 2533): density 1.2250 to 1.1116 kg/m³.
	low, _ := c.moved(0.5, 1.2250, 1)
	high, _ := c.moved(0.5, 1.1116, 1)
	assert.InEpsilon(t, 0.9075, high/low, 5e-4)
}

// Every kind of curve falls beyond its ends, and its slope is its derivative.
func TestFanCurveSlopes(t *testing.T) {
	curves := map[string]shop.Fan{
		"straight":        points(shop.StraightLines, usualPoints...),
		"smooth":          points(shop.Smooth, usualPoints...),
		"begins late":     points(shop.Smooth, 0.2, 2560, 0.4, 2375, 0.8, 1320),
		"humped":          points(shop.Smooth, 0, 2200, 0.2, 2560, 0.4, 2375, 0.8, 1320),
		"coefficients":    {Density: 1.2, Coefficients: []float64{2450, 0, -5200}},
		"cubic":           {Density: 1.2, Coefficients: []float64{2450, 300, -2000, -800}},
		"cubic that ends": {Density: 1.2, Coefficients: []float64{2450, -4000, 2500}},
	}
	for name, f := range curves {
		t.Run(name, func(t *testing.T) {
			c, err := newFanCurve(f)
			require.NoError(t, err)
			rapid.Check(t, func(t *rapid.T) {
				q := rapid.Float64Range(-0.7, 2.5).Draw(t, "q")
				rise, slope := c.moved(q, 1.1, 0.9)
				const h = 1e-7
				up, slopeUp := c.moved(q+h, 1.1, 0.9)
				down, slopeDown := c.moved(q-h, 1.1, 0.9)
				if abs(slopeUp-slopeDown) < 1 { // not at a corner between straight lines
					assert.InDelta(t, (up-down)/(2*h), slope, 0.5)
				}
				assert.InDelta(t, rise, up, 1, "no jump")
				_, atNone := c.at(0)
				if q/0.9 > c.last.flow || q < 0 && atNone <= 0 || q < -0.6 {
					assert.Negative(t, slope, "falls beyond its ends")
				}
			})
		})
	}
}

func TestFanCurveThatCannotBe(t *testing.T) {
	for _, tt := range []struct {
		f    shop.Fan
		says string
	}{
		{shop.Fan{}, "two points or more"},
		{points(0, 0, 2600, 0.2, 2500, 0.4, 2550), "rises again at point 3"},
		{points(0, 0, 2600, 0, 2500), "no more flow"},
		{points(0, 0, 2600, 0.2, math.NaN()), "not a number"},
		{points(0, 0, -5, 0.2, -10), "positive"},
		{shop.Fan{Coefficients: []float64{0, -1}}, "no flow"},
		{shop.Fan{Coefficients: []float64{2000, 1}}, "never falls"},
		{shop.Fan{Coefficients: []float64{2000, math.Inf(1)}}, "coefficient 1"},
	} {
		_, err := newFanCurve(tt.f)
		assert.ErrorContains(t, err, tt.says)
	}
}

// Air power is Q·p: 0.5 m³/s at 2000 Pa is 1 kW, at an efficiency of 0.6 from 1667 W at the shaft.
func TestShaftPower(t *testing.T) {
	f := shop.Fan{Points: []shop.CurvePoint{{Flow: 0, Pressure: 2400, Power: 700}, {Flow: 1, Pressure: 1600, Power: 2634}}}
	c, err := newFanCurve(f)
	require.NoError(t, err)
	rise, _ := c.at(0.5)
	power, _ := c.shaft(0.5, 1.2, 1)
	assert.InEpsilon(t, 1000, 0.5*rise, 1e-9)
	assert.InEpsilon(t, 1667, power, 0.001)
	assert.InEpsilon(t, 0.60, 0.5*rise/power, 0.001)
	f.Points[0].Power = math.NaN()
	c, err = newFanCurve(f)
	require.NoError(t, err)
	power, _ = c.shaft(0.5, 1.2, 1)
	assert.True(t, math.IsNaN(power), "half a power curve is none")
}

// The filter is viscous but for its housing: twice the viscosity, twice the drop, whatever the density.
func TestFilterLaw(t *testing.T) {
	f, err := newFilter(shop.Filter{CleanDrop: 400, CleanFlow: 0.5, HousingLoss: 40})
	require.NoError(t, err)
	c := collector{filter: f}
	c.fan, err = newFanCurve(points(shop.StraightLines, usualPoints...))
	require.NoError(t, err)
	drop := func(q, density, viscosity, ratio float64) float64 {
		s := sceneOf(density, viscosity)
		s.filter = ratio
		ch := c.at(q, s, point{})
		return ch.filter()
	}
	mu := f.viscosity
	assert.InEpsilon(t, 400, drop(0.5, 1.2, mu, 1), 1e-12, "as the description says")
	assert.InEpsilon(t, 360*2+40, drop(0.5, 1.2, 2*mu, 1), 1e-12)
	assert.InEpsilon(t, 360*3+40, drop(0.5, 1.2, mu, 3), 1e-12, "loading leaves the housing alone")
	assert.InEpsilon(t, 360+20, drop(0.5, 0.6, mu, 1), 1e-12)
	assert.InEpsilon(t, 180+10, drop(0.25, 1.2, mu, 1), 1e-12)
	for _, bad := range []shop.Filter{{}, {CleanDrop: 100}, {CleanDrop: 100, CleanFlow: 1, HousingLoss: 100}} {
		_, err := newFilter(bad)
		assert.Error(t, err)
	}
}

// A restriction right at the fan leaves of the rise at the filter's clean flow what it is told by, and takes a quarter of
// that at half the flow (Δp ~ Q²), and nothing with no flow.
func TestThrottleAtTheFan(t *testing.T) {
	f, err := newFilter(shop.Filter{CleanDrop: 400, CleanFlow: 0.5})
	require.NoError(t, err)
	c := collector{filter: f}
	c.fan, err = newFanCurve(points(shop.StraightLines, usualPoints...))
	require.NoError(t, err)
	c.fan.throttleAt(0.5)
	rise := func(q, throttle float64) float64 {
		s := sceneOf(c.fan.density, f.viscosity)
		s.throttle = throttle
		ch := c.at(q, s, point{})
		return ch.rise
	}
	assert.InEpsilon(t, 0.8*rise(0.5, 1), rise(0.5, 0.8), 1e-12)
	assert.InEpsilon(t, 0.2*rise(0.5, 1)/4, rise(0.25, 1)-rise(0.25, 0.8), 1e-12)
	assert.Equal(t, rise(0, 1), rise(0, 0.8))
}

package duct

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"ductward/internal/air"
)

// darcy is the Darcy friction factor at a Reynolds number and a relative roughness.
func darcy(re, relative float64) float64 {
	g, _ := new(point).loss(re, relative/3.7)
	return g / (re * re)
}

// The equation of Colebrook and White solved to machine precision by the library fluids 1.0.22 (its Colebrook agrees
// with its Clamond).
func TestColebrookWhite(t *testing.T) {
	tests := []struct{ re, relative, want float64 }{
		{1e4, 0, 0.030883},
		{1e5, 0, 0.0179898},
		{5e4, 0.0005, 0.022565},
		{1e5, 0.0001, 0.0185139},
		{1e5, 0.001, 0.0221745},
		{2e5, 0.00045, 0.0185602},
		{2e5, 0.001, 0.0210336},
		{1e6, 0.001, 0.0199435},
		{1.5e5, 0.03, 0.0573783},
		{1e8, 0.05, 0.0715509},
		{1e8, 0.001, 0.0196386},
	}
	for _, tt := range tests {
		assert.InEpsilon(t, tt.want, darcy(tt.re, tt.relative), 3e-5, "Re %g, ε/D %g", tt.re, tt.relative)
	}
	// Fully rough (von Karman), computed with fluids 1.0.22, which writes 3.71 where Colebrook has 3.7: 0.07 % apart.
	assert.InEpsilon(t, 0.01962, darcy(1e12, 0.001), 1e-3)
	// The smooth pipe of Blasius, 0.3164/Re^0.25, lies 1.1 % below; Moody's chart of 1944 reads 0.018 (from memory).
	assert.InEpsilon(t, 0.3164/math.Pow(1e5, 0.25), darcy(1e5, 0), 0.015)
	assert.InEpsilon(t, 0.018, darcy(1e5, 0), 0.02)
	// Swamee and Jain's explicit formula is 0.76 % above it here.
	swamee := 0.25 / math.Pow(math.Log10(0.001/3.7+5.74/math.Pow(1e5, 0.9)), 2)
	assert.InDelta(t, 0.0076, swamee/darcy(1e5, 0.001)-1, 2e-4)
}

// Moody's diagram prints f = 64/Re for laminar flow, up to Re 2300.
func TestLaminar(t *testing.T) {
	assert.InEpsilon(t, 0.064, darcy(1000, 0.001), 1e-15)
	assert.InEpsilon(t, 64.0/2300, darcy(2300, 0.001), 1e-12)
}

// The solution fulfils the equation to rounding, from any start, and its slope is that of the equation.
func TestColebrookSolvesItsEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		re := math.Exp(rapid.Float64Range(math.Log(2300), math.Log(1e9)).Draw(t, "log Re"))
		rough := rapid.Float64Range(0, 0.05).Draw(t, "ε/D") / 3.7
		start := rapid.Float64Range(0, 20).Draw(t, "start")
		x, slope := colebrook(re, rough, start)
		assert.InDelta(t, 0, x+2*math.Log10(rough+2.51*x/re), 4e-15*x+2e-15)
		up, _ := colebrook(re*1.0001, rough, 0)
		down, _ := colebrook(re*0.9999, rough, 0)
		assert.InDelta(t, (up-down)/(0.0002*re), slope, 1e-6*abs(slope)+1e-9/re)
	})
}

// The loss rises with the flow, and its slope is its derivative, through all three regimes.
func TestFrictionIsSmooth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rough := rapid.Float64Range(0, 0.05).Draw(t, "ε/D") / 3.7
		re := math.Exp(rapid.Float64Range(-3, 15).Draw(t, "log Re"))
		g, slope := new(point).loss(re, rough)
		h := 1e-5 * re
		up, _ := new(point).loss(re+h, rough)
		down, _ := new(point).loss(re-h, rough)
		assert.Greater(t, slope, 0.0)
		assert.InEpsilon(t, (up-down)/(2*h), slope, 2e-5)
		assert.Less(t, down, g)
	})
	for _, edge := range []float64{laminarEnd, turbulentStart} {
		below, slopeBelow := new(point).loss(edge*(1-1e-9), 1e-4)
		above, slopeAbove := new(point).loss(edge*(1+1e-9), 1e-4)
		assert.InEpsilon(t, below, above, 1e-7, "loss at Re %g", edge)
		assert.InEpsilon(t, slopeBelow, slopeAbove, 1e-6, "slope at Re %g", edge)
	}
}

// sceneOf is a scene with all factors 1.
func sceneOf(density, viscosity float64) *scene {
	return &scene{
		air:   air.State{Density: density, Viscosity: viscosity},
		speed: 1, filter: 1, losses: 1, leak: 1, fan: 1, wye: 1,
	}
}

// Pressure gradients of round duct, computed with fluids 1.0.22 by Darcy, Weisbach, Colebrook and White.
func TestPressureGradient(t *testing.T) {
	const cfm, inch, inchWater = 0.3048 * 0.3048 * 0.3048 / 60, 0.0254, 249.0889 // conventional inch of water
	perHundredFeet := inchWater / 30.48
	tests := []struct {
		flow, diameter, roughness, density, want float64 // want in Pa/m
	}{
		{815.0 / 3600, 0.12, 9e-5, 1.204, 40.92},
		{1108.0 / 3600, 0.14, 9e-5, 1.204, 33.75},
		{2262.0 / 3600, 0.20, 9e-5, 1.204, 21.79},
		{2262.0 / 3600, 0.20, 3e-5, 1.204, 19.4},
		{565.0 / 3600, 0.10, 9e-4, 1.204, 89.12},
		{565.0 / 3600, 0.10, 3e-3, 1.204, 138.0},
		{1000 * cfm, 12 * inch, 9e-5, 1.2014, 0.1886 * perHundredFeet},
		{800 * cfm, 6 * inch, 9e-5, 1.2014, 3.967 * perHundredFeet},
		{400 * cfm, 4 * inch, 9e-5, 1.2014, 8.211 * perHundredFeet},
		{4000 * cfm, 20 * inch, 9e-5, 1.2014, 0.2007 * perHundredFeet},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%.0f m3/h in %.0f mm", tt.flow*3600, tt.diameter*1000), func(t *testing.T) {
			p := newPipe(tt.diameter, 1, tt.roughness, 1)
			dp, _ := p.loss(tt.flow, sceneOf(tt.density, 1.813e-5), new(point))
			assert.InEpsilon(t, tt.want, dp, 0.002, "Pa/m")
		})
	}
	// A duct friction chart drawn for 0.0005 ft reads 0.23 in.wg per 100 ft at 4000 cfm in 20 in; 10 % to read it.
	p := newPipe(20*inch, 1, 0.0005*0.3048, 1)
	dp, _ := p.loss(4000*cfm, sceneOf(1.2014, 1.813e-5), new(point))
	assert.InEpsilon(t, 0.23*perHundredFeet, dp, 0.10)
	// Re = 66.4·D[mm]·V[m/s] in standard air: SMACNA HVAC Systems Duct Design, 4th ed., Table A-7, note.
	assert.InEpsilon(t, 66.4e3, 1.204/1.813e-5, 0.005)
}

// Hose that is not stretched loses more: tests to ASHRAE Standard 120 give a factor of about 4 for a moderate
// compression as installed, 2 to 5, and near 10 for more (Abushakra, Walker and Sherman). The description's factor
// multiplies the friction alone.
func TestStretch(t *testing.T) {
	s := sceneOf(1.2, 1.8e-5)
	taut, slack := newPipe(0.1, 2, 1e-3, 1), newPipe(0.1, 2, 1e-3, 4)
	a, _ := taut.loss(0.15, s, new(point))
	b, _ := slack.loss(0.15, s, new(point))
	assert.InEpsilon(t, 4, b/a, 1e-4)
}

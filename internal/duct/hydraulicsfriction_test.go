package duct_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// frictionOfSolver is the Darcy friction factor by which the general network solver computes: 64/Re up to Re 2000, the
// cubic of Dunlop (1991) from there to 4000, and above the explicit formula of Swamee and Jain (1976, J. Hydraul. Div.
// ASCE 102, 657). From the EPANET 2.2 User Manual (Rossman and others, US EPA 2020), "Analysis Algorithms".
func frictionOfSolver(re, relative float64) float64 {
	if re <= 2000 {
		return 64 / re
	}
	swameeJain := func(re float64) (inside, root float64) {
		inside = relative/3.7 + 5.74/math.Pow(re, 0.9)
		return inside, -2 * math.Log10(inside)
	}
	if re >= 4000 {
		_, root := swameeJain(re)
		return 1 / (root * root)
	}
	inside, root := swameeJain(4000)
	fa := 1 / (root * root)
	fb := fa * (2 - 0.00514215/(inside*root))
	r := re / 2000
	return 7*fa - fb + r*(0.128-17*fa+2.5*fb+r*(-0.128+13*fa-2*fb+r*(0.032-3*fa+0.5*fb)))
}

// frictionOfModel is the model's Darcy friction factor, found again without the model's own code: the equation of
// Colebrook and White by halving, 64/Re up to Re 2300, and the smooth blend of the two to 4000.
func frictionOfModel(re, relative float64) float64 {
	if re <= 2300 {
		return 64 / re
	}
	low, high := 0.5, 50.0 // of 1/√f
	for range 100 {
		x := (low + high) / 2
		if x < -2*math.Log10(relative/3.7+2.51*x/re) {
			low = x
		} else {
			high = x
		}
	}
	f := 1 / (low * low)
	t := math.Min(1, (re-2300)/(4000-2300))
	return 64/re + t*t*(3-2*t)*(f-64/re)
}

// How far the two friction laws are apart, by the range of the Reynolds number, over all roughnesses from smooth to 0.02
// of the diameter. It is this that the comparison on networks has to bear.
//
// Above 10,000 it is what an explicit formula costs. Between 2000 and 4000 nothing is known to a few per cent: flow there
// is laminar or turbulent by turns, and each program joins the two lines in its own way, this one later.
func TestFrictionLawsApart(t *testing.T) {
	for _, band := range []struct{ from, to, most float64 }{
		{1, 1999.9, 1e-12},
		{2000, 4000, 0.40},
		{4000, 10000, 0.035},
		{10000, 1e6, 0.03},
	} {
		worst := 0.0
		for _, relative := range []float64{1e-6, 1e-5, 1e-4, 3e-4, 1e-3, 3e-3, 1e-2, 2e-2} {
			for re := band.from; re <= band.to; re *= 1.01 {
				worst = math.Max(worst, math.Abs(frictionOfSolver(re, relative)/frictionOfModel(re, relative)-1))
			}
		}
		t.Logf("Re %6.0f to %7.0f: at most %.2f %% apart", band.from, band.to, 100*worst)
		assert.Less(t, worst, band.most)
	}
}

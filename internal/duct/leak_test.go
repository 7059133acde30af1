package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Class limits: factor times p^0.65, with 0.027, 0.009, 0.003 and 0.001 L/(s m²) at 1 Pa for classes A to D (EN 12237
// for round duct, EN 1507, EN 16798-3).
func TestTightnessClasses(t *testing.T) {
	for _, tt := range []struct{ factor, pressure, want float64 }{
		{0.027, 400, 1.326},
		{0.009, 400, 0.4422},
		{0.027, 1500, 3.132},
		{0.003, 1500, 0.348},
		{0.001, 2000, 0.1399},
		{0.027 * math.Pi * 0.2 * 10, 1500, 19.68}, // 10 m of 200 mm duct of class A, L/s
	} {
		q, _ := leakLaw{c: tt.factor, n: usualExponent}.flow(tt.pressure)
		assert.InEpsilon(t, tt.want, q, 0.001, "%+v", tt)
	}
	// SMACNA HVAC Air Duct Leakage Test Manual: F = CL·p^0.65 in cfm per 100 ft² and inches of water; class A is CL 19.2.
	for _, tt := range []struct{ class, inches, want float64 }{{6, 4, 14.77}, {24, 1, 24.0}, {48, 4, 118.2}} {
		q, _ := leakLaw{c: tt.class * math.Pow(249.0889, -usualExponent), n: usualExponent}.flow(tt.inches * 249.0889)
		assert.InEpsilon(t, tt.want, q, 0.0005, "%+v", tt)
	}
}

// A sharp hole of discharge coefficient 0.61 (computed: Cd·A·√(2Δp/ρ) in air of 1.204 kg/m³) is a leak of exponent 0.5.
func TestSharpHole(t *testing.T) {
	for _, tt := range []struct{ mm, pressure, want float64 }{{5, 1500, 2.152}, {10, 1500, 8.609}, {25, 2000, 62.13}} {
		law := leakLaw{c: 0.61 * circle(tt.mm/1000) * math.Sqrt(2/1.204), n: 0.5}
		q, _ := law.flow(tt.pressure)
		assert.InEpsilon(t, tt.want, q*3600, 0.001, "m³/h: %+v", tt)
	}
}

// Two points give back exponent and coefficient: 19.118 m³/h at 500 Pa and 30 m³/h at 1000 Pa are n 0.65, C 0.3365.
func TestLeakFromTwoPoints(t *testing.T) {
	law := atReference(30.0/3600, 1000, 0)
	q, _ := law.flow(500)
	assert.InEpsilon(t, 19.118, q*3600, 1e-4)
	assert.InEpsilon(t, 0.3365, law.c*3600, 0.005)
	assert.InEpsilon(t, 0.65, math.Log(30.0/19.118)/math.Log(2), 1e-3)
}

func TestLeakIsSmoothAndOdd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law := leakLaw{c: rapid.Float64Range(1e-6, 1e-2).Draw(t, "c"), n: rapid.Float64Range(0.5, 1).Draw(t, "n")}
		dp := rapid.Float64Range(-3000, 3000).Draw(t, "dp")
		if rapid.Bool().Draw(t, "small") {
			dp /= 1000
		}
		q, slope := law.flow(dp)
		back, _ := law.flow(-dp)
		assert.Equal(t, q, -back)
		assert.Positive(t, slope)
		const h = 1e-3
		up, _ := law.flow(dp + h)
		down, _ := law.flow(dp - h)
		assert.InEpsilon(t, (up-down)/(2*h), slope, 1e-5)
	})
	q, _ := leakLaw{c: 1, n: 0.65}.flow(1500)
	assert.InEpsilon(t, math.Pow(1500, 0.65), q, 1e-6, "the bend near zero is not felt at 1500 Pa")
}

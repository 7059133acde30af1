package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Wherever a point has been before, it gives what a fresh solution gives.
func TestPointMovesToTheSolution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rough := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-6, 0.02)).Draw(t, "rough")
		var c point
		re := math.Exp(rapid.Float64Range(math.Log(2300), math.Log(1e8)).Draw(t, "ln Re"))
		for range 12 {
			x, slope := c.move(re, rough)
			want, wantSlope := colebrook(re, rough, 0)
			assert.InEpsilon(t, want, x, 4e-15, "1/√f at Re %g", re)
			assert.InEpsilon(t, wantSlope, slope, 1e-8, "its slope at Re %g", re) // two terms of Taylor's series
			re *= math.Exp(rapid.OneOf(rapid.Float64Range(-0.3, 0.3), rapid.Float64Range(-2e-4, 2e-4)).Draw(t, "change"))
		}
	})
}

// The series is the logarithm, over all of the range in which it is used.
func TestLogNearOne(t *testing.T) {
	for d := -nearby; d <= nearby; d += nearby / 500 {
		assert.InDelta(t, math.Log1p(d), logNearOne(d), 2e-16, "ln(1%+g)", d)
	}
}

var sink float64

func BenchmarkColebrook(b *testing.B) {
	re := 1e5
	for b.Loop() {
		x, _ := colebrook(re, 1e-4, 7.1)
		sink += x
		re *= 1.0000001
	}
}

func BenchmarkPointNear(b *testing.B) {
	c := point{}
	re := 1e5
	for b.Loop() {
		x, _ := c.move(re, 1e-4)
		sink += x
		re *= 1.0000001
	}
}

func BenchmarkPointFar(b *testing.B) {
	c := point{}
	re, f := 1e5, 1.02
	for b.Loop() {
		x, _ := c.move(re, 1e-4)
		sink += x
		re *= f
		f = 1 / f
	}
}

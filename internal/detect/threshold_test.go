package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// runLength returns after how many days of white noise the largest contrast of the last days, at most window, first
// lies above b.
func runLength(rng *rand.Rand, b float64, window int) int {
	limit := make([]float64, window) // of the sum of the last i+1 days
	for i := range limit {
		limit[i] = b * math.Sqrt(float64(i+1))
	}
	recent := make([]float64, window) // the last day first, as a ring
	for day := 0; ; day++ {
		recent[day%window] = rng.NormFloat64()
		sum := 0.0
		for i := 0; i < window && i <= day; i++ {
			sum += recent[(day-i)%window]
			if sum > limit[i] {
				return day + 1
			}
		}
	}
}

// TestScanRateAgainstSimulation: one over the mean time to a false alarm.
func TestScanRateAgainstSimulation(t *testing.T) {
	for _, c := range []struct {
		b         float64
		window    int
		tolerance float64 // relative, the simulation's own 4 % within
	}{
		{2.5, 60, 0.22},
		{3, 60, 0.12},
		{3.5, 60, 0.12},
		{3, 20, 0.15},
		{3.5, 20, 0.15},
	} {
		rng := rand.New(rand.NewPCG(1995, uint64(c.window)))
		const repeats = 700
		days := 0
		for range repeats {
			days += runLength(rng, c.b, c.window)
		}
		seen := repeats / float64(days)
		assert.InEpsilon(t, seen, ScanRate(c.b, c.window), c.tolerance,
			"alarms a day at %v, window %d: %.3g seen, %.3g said", c.b, c.window, seen, ScanRate(c.b, c.window))
	}
}

// TestThresholdKeepsThePromise: all directions together cross at the rate that was asked for.
func TestThresholdKeepsThePromise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := math.Pow(10, rapid.Float64Range(-5, -2.3).Draw(t, "log10 of the rate a day"))
		window := rapid.IntRange(5, 200).Draw(t, "window")
		directions := rapid.IntRange(1, 60).Draw(t, "directions")
		b := Threshold(rate, window, directions)
		assert.InEpsilon(t, rate, ScanRate(b, window)*float64(directions), 1e-9)
		assert.GreaterOrEqual(t, Threshold(rate, window, directions+1), b)
		assert.GreaterOrEqual(t, Threshold(rate/2, window, directions), b)
	})
}

// TestOvershootAgainstASum.
func TestOvershootAgainstASum(t *testing.T) {
	const h = 1e-4
	sum := 0.0
	for x := h / 2; x < 3; x += h {
		sum += x * math.Exp(-2*overshootRate*x) * h
	}
	assert.InDelta(t, sum, overshoot(3), 1e-7)
}

// TestNormalLaw against the printed table: Abramowitz and Stegun, Handbook of Mathematical Functions, table 26.1, and
// the usual quantiles.
func TestNormalLaw(t *testing.T) {
	assert.InDelta(t, 1.644854, Quantile(0.9), 1e-6)
	assert.InDelta(t, 1.959964, Quantile(0.95), 1e-6)
	assert.InDelta(t, 0.841344746, Below(3, 2, 1), 1e-9)
	assert.InDelta(t, 0.022750132, Below(0, 4, 2), 1e-9)
	assert.Equal(t, 1.0, Below(3, 2, 0), "no doubt at all")
	assert.Equal(t, 0.0, Below(2, 2, 0), "at the limit is not below it")
}

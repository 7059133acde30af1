package steady

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
)

// turbulence returns n samples, a second apart, of a process of variance 1 whose correlation falls e-fold in tau
// seconds.
func turbulence(seed uint64, tau float64, n int) []float64 {
	rng := rand.New(rand.NewPCG(seed, 99))
	a := math.Exp(-1 / tau)
	x := make([]float64, n)
	v := rng.NormFloat64()
	for i := range x {
		v = a*v + math.Sqrt(1-a*a)*rng.NormFloat64()
		x[i] = v
	}
	return x
}

func row(mono time.Duration, v, sd float64, span time.Duration, n int) reading.Reading {
	return reading.Reading{Value: v, SD: sd, Span: span, N: n, Mono: mono}
}

// summarise folds samples, each the mean of so many seconds.
func summarise(t testing.TB, x []float64, seconds int) Summary {
	t.Helper()
	var s series
	for i := 0; i+seconds <= len(x); i += seconds {
		r := row(time.Duration(i+seconds)*time.Second, x[i], math.NaN(), 0, 0)
		if seconds > 1 {
			m, sd := meanSD(x[i : i+seconds])
			r = row(r.Mono, m, sd, time.Duration(seconds)*time.Second, seconds)
		}
		s.add(&r)
	}
	out, ok := s.summary("x", eddies{})
	require.True(t, ok)
	return out
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

// TestTheStandardErrorIsHonest: over many stretches of turbulence the mean, which should be nothing, over its stated
// error has a variance near 1. The correlation is not known to the fold, only that it is 3 to 6 s, so that a short
// stretch must be a little wrong at either end, and a long one must not be.
func TestTheStandardErrorIsHonest(t *testing.T) {
	const repeats = 1200 // the variance is then known to 4 %
	for _, c := range []struct {
		name     string
		length   int // s
		row      int // s, 1: single samples
		low, top float64
	}{
		{"half a minute", 30, 1, 0.5, 1.6},
		{"a minute", 60, 1, 0.5, 1.5},
		{"five minutes", 300, 1, 0.7, 1.4},
		{"five minutes of 30 s rows", 300, 30, 0.7, 1.4},
		{"half an hour", 1800, 1, 0.7, 1.4},
		{"half an hour of one-minute rows", 1800, 60, 0.7, 1.4},
	} {
		t.Run(c.name, func(t *testing.T) {
			var all float64
			taus := []float64{3, 4, 5, 6}
			for k, tau := range taus {
				sum := 0.0
				n := repeats
				if c.length > 1000 {
					n /= 2
				}
				for i := range n {
					s := summarise(t, turbulence(uint64(i+k*10_000), tau, c.length), c.row)
					z := s.Mean / s.SE
					sum += z * z / float64(n)
				}
				assert.Greater(t, sum, c.low, "variance of mean/SE at %v s", tau)
				assert.Less(t, sum, c.top, "variance of mean/SE at %v s", tau)
				all += sum / float64(len(taus))
			}
			assert.InDelta(t, 1.05, all, 0.35, "over all")
		})
	}
}

// TestScatterBeyondTurbulenceIsSeen: a fan whose speed wanders between blocks widens the error, though the samples
// within each block look quiet.
func TestScatterBeyondTurbulenceIsSeen(t *testing.T) {
	x := turbulence(5, 4, 1200)
	quiet := summarise(t, x, 1).SE
	rng := rand.New(rand.NewPCG(8, 8))
	for i := 0; i < len(x); i += 30 {
		shift := 3 * rng.NormFloat64()
		for j := i; j < i+30; j++ {
			x[j] += shift
		}
	}
	assert.Greater(t, summarise(t, x, 1).SE, 3*quiet)
}

// TestOneSlamOfADoor in half an hour moves a plain mean by 25 Pa; the robust one barely.
func TestOneSlamOfADoor(t *testing.T) {
	x := turbulence(11, 4, 1200)
	clean := summarise(t, x, 1)
	for i := 600; i < 630; i++ {
		x[i] += 1000
	}
	plainMean, _ := meanSD(x)
	assert.Greater(t, plainMean, 24.0, "Pa, the plain mean")
	s := summarise(t, x, 1)
	assert.InDelta(t, clean.Mean, s.Mean, 0.06, "Pa, moved by a block of 1000 Pa")
}

// TestShareAgainstASum: the closed form is the double sum of the correlations.
func TestShareAgainstASum(t *testing.T) {
	for _, c := range []struct{ n, dt float64 }{{2, 1}, {10, 1}, {30, 1}, {7, 0.25}, {5, 20}, {60, 60}} {
		want := 0.0
		for i := range int(c.n) {
			for j := range int(c.n) {
				want += math.Exp(-math.Abs(float64(i-j)) * c.dt / correlationTime.Seconds())
			}
		}
		assert.InEpsilon(t, want/(c.n*c.n), share(c.n, c.dt), 1e-10, "%v samples, %v s apart", c.n, c.dt)
	}
	assert.Equal(t, 1.0, share(1, 1))
	assert.Equal(t, 1.0, share(50, 0), "all at one moment")
}

// TestNoErrorIsMadeUp: of one row that does not tell its scatter nothing is known.
func TestNoErrorIsMadeUp(t *testing.T) {
	var s series
	r := row(time.Minute, -1500, math.NaN(), time.Minute, 0)
	s.add(&r)
	out, ok := s.summary("x", eddies{})
	require.True(t, ok)
	assert.True(t, math.IsNaN(out.SE))
	assert.True(t, math.IsNaN(out.SD))
	assert.Equal(t, -1500.0, out.Mean)
	_, ok = (&series{}).summary("x", eddies{})
	assert.False(t, ok)
}

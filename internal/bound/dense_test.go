package bound

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"ductward/internal/shop"
)

// drawn is a response of some channels and sets with derivatives at random; the last change is a sensor's.
func drawn(rng *rand.Rand, channels, sets, changes int) *Response {
	n := UsualNoise()
	r := &Response{Noise: n, Measured: map[shop.Quantity]bool{}}
	kinds := []shop.Quantity{shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure}
	for c := range channels {
		r.Channels = append(r.Channels, Channel{Name: fmt.Sprint("main/", c), Measures: kinds[c%3]})
	}
	for k := range changes {
		r.Changes = append(r.Changes, Change{Leak, fmt.Sprint("run:", k), Trunk})
	}
	x := func() float64 { return rng.NormFloat64() }
	row := func(n int) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = x()
		}
		return out
	}
	for range sets {
		s := Set{Mean: row(channels), Filter: row(channels), Density: row(channels), Speed: row(channels), Hoods: []int{0}}
		for range channels {
			s.By = append(s.By, row(changes))
			s.Common = append(s.Common, [3]float64{x(), x(), x()})
			s.Scatter = append(s.Scatter, 0.01+0.05*rng.Float64())
			s.Zero = append(s.Zero, 0.01*rng.Float64())
		}
		for range 3 {
			s.Built = append(s.Built, row(channels))
			for c := range channels {
				s.Built[len(s.Built)-1][c] *= 0.02
			}
		}
		r.Sets = append(r.Sets, s)
	}
	return r
}

// drawnDays are days of runs at random.
func drawnDays(rng *rand.Rand, sets, n int) []Day {
	var out []Day
	for range n {
		var d Day
		for k := range 1 + rng.IntN(5) {
			run := Run{Set: rng.IntN(sets), At: float64(k) + rng.Float64(), Seconds: 60 + 600*rng.Float64()}
			if k > 0 {
				run.Uses = []int{(k - 1) / 2} // two runs a use; the first has one of its own
			}
			d = append(d, run)
		}
		out = append(out, d)
	}
	return out
}

// dense writes every unknown and every reading out and inverts the whole: the covariance of the changes, which have no
// prior, beside biases, and of each day the filter, its slope, density, speed, each channel's error and zero, and of each
// run its speed and its hood.
func dense(t testing.TB, r *Response, all []Day, course []float64) *mat.Dense {
	t.Helper()
	changes, channels := len(r.Changes), len(r.Channels)
	biases := len(r.Sets) * channels
	perDay := 4 + 2*channels
	runs := 0
	for _, d := range all {
		runs += len(d)
	}
	size := changes + biases + len(all)*perDay + 2*runs
	normal := mat.NewSymDense(size, nil)
	add := func(i, j int, x float64) {
		if i <= j {
			normal.SetSym(i, j, normal.At(i, j)+x)
		}
	}
	prior := func(first, step, n int, cov func(a, b int) float64) {
		c := mat.NewDense(n, n, nil)
		for a := range n {
			for b := range n {
				c.Set(a, b, cov(a, b))
			}
		}
		var inv mat.Dense
		require.NoError(t, inv.Inverse(c))
		for a := range n {
			for b := range n {
				add(first+a*step, first+b*step, inv.At(a, b))
			}
		}
	}
	n := r.Noise
	prior(changes, 1, biases, func(i, j int) float64 {
		a, b, c, e := r.Sets[i/channels], r.Sets[j/channels], i%channels, j%channels
		x := sq(n.Loss)*a.Common[c][0]*b.Common[e][0] + sq(n.Leakage)*a.Common[c][1]*b.Common[e][1] + sq(n.FanCurve)*a.Common[c][2]*b.Common[e][2]
		for m := range a.Built {
			x += a.Built[m][c] * b.Built[m][e]
		}
		if c == e {
			x += sq(n.Gain)
		}
		if i == j {
			x += sq(n.SetBias)
		}
		return x
	})
	day0 := changes + biases
	series := func(which int, sd, rho float64) {
		prior(day0+which, perDay, len(all), func(a, b int) float64 { return sd * sd * math.Pow(rho, math.Abs(float64(a-b))) })
	}
	series(0, filterOpen, 0)
	series(1, n.Slope, 0)
	series(2, math.Hypot(math.Hypot(n.Humidity, math.Hypot(n.Temperature, n.Barometer)), n.Measured), n.AirCorrelation)
	series(3, n.SpeedDay, 0)
	for c := range channels {
		series(4+c, n.Day, n.DayCorrelation)
		series(4+channels+c, 1, 0)
	}
	at := day0 + len(all)*perDay // of each run, a speed; behind these, of each run or use, a hood
	for i := range runs {
		add(at+runs+i, at+runs+i, 1/sq(n.Hood))
	}
	for d, day := range all {
		hours, time := 0.0, 0.0
		prior(at, 1, len(day), func(a, b int) float64 {
			rho := math.Exp(-3600 * math.Abs(day[a].At-day[b].At) / n.SpeedTime)
			return r.speedOf(day[a]) * r.speedOf(day[b]) * rho
		})
		for _, run := range day {
			hours, time = hours+run.At*run.Seconds, time+run.Seconds
		}
		for i, run := range day {
			s := r.Sets[run.Set]
			speed, hood := at+i, at+i+runs
			if run.Uses != nil {
				hood = at + 1 + run.Uses[0] + runs // behind that of the first run
			}
			for c := range channels {
				x := map[int]float64{changes + run.Set*channels + c: 1, speed: s.Speed[c], hood: s.By[c][s.Hoods[0]]}
				for k := range changes {
					x[k] = course[d] * s.By[c][k]
				}
				o := day0 + d*perDay
				x[o], x[o+1], x[o+2], x[o+3] = s.Filter[c], s.Filter[c]*(run.At-hours/time), s.Density[c], s.Speed[c]
				x[o+4+c], x[o+4+channels+c] = 1, s.Zero[c]
				w := 1 / (sq(s.Scatter[c])*2*n.Correlation/run.Seconds + sq(n.Floor))
				for i, a := range x {
					for j, b := range x {
						add(i, j, w*a*b)
					}
				}
			}
		}
		at += len(day)
	}
	var inv mat.Dense
	require.NoError(t, inv.Inverse(normal))
	return &inv
}

// TestAgainstEveryUnknownWrittenOut: what is left of the information on the changes, when everything else is integrated out
// piece by piece, is the inverse of their block of the whole.
func TestAgainstEveryUnknownWrittenOut(t *testing.T) {
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 1))
		r := drawn(rng, 2, 3, 2)
		all := drawnDays(rng, 3, 7)
		for _, course := range [][]float64{Step(4, 3), Ramp(3, 4)} {
			rec, err := NewRecord(r, all)
			require.NoError(t, err)
			s, err := rec.Space(course)
			require.NoError(t, err)
			got := mat.NewSymDense(2, []float64{dot(s.a[0], s.a[0]), dot(s.a[0], s.a[1]), 0, dot(s.a[1], s.a[1])})
			var cov mat.Dense
			require.NoError(t, cov.Inverse(got))
			want := dense(t, r, all, course)
			for i := range 2 {
				for j := range 2 {
					assert.InDelta(t, want.At(i, j), cov.At(i, j), 1e-6*math.Sqrt(want.At(i, i)*want.At(j, j)), "seed %d, %d and %d", seed, i, j)
				}
			}
		}
	}
}

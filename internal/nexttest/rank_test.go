package nexttest

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// TestRankPutsWhatPartsTheSuspectsFirst: of three suspects a test that parts the two likely ones goes before one that
// parts off the unlikely one, and one that parts nothing is last.
func TestRankPutsWhatPartsTheSuspectsFirst(t *testing.T) {
	b := apart(0.48, 0.47, 0.05)
	own := []float64{0.1, 0.1, 0.1}
	nothing, unlikely, likely := single([]float64{1, 1, 1}, own, 1), single([]float64{0, 0, 5}, own, 1), single([]float64{0, 5, 0}, own, 1)
	got, err := Rank(b, []Test{*nothing, *unlikely, *likely}, 9)
	require.NoError(t, err)
	require.Len(t, got, 3)
	assert.Equal(t, []int{2, 1, 0}, []int{got[0].Test, got[1].Test, got[2].Test})
	assert.Equal(t, Contrast{A: 0, B: 1, Shift: -5, SD: math.Sqrt(1.1)}, got[0].Contrast, "the likelier one first")
	assert.Equal(t, 2, got[1].Contrast.B)
	assert.InDelta(t, 0, got[2].Gain, 1e-12)
	assert.Equal(t, Lengths[0], got[2].Duration, "nothing is told in two minutes as in ten")
}

// TestTwinsAreRankedInTheirOrder, so that the advice does not change from day to day.
func TestTwinsAreRankedInTheirOrder(t *testing.T) {
	x := single([]float64{0, 2}, []float64{1, 1}, 1)
	got, err := Rank(apart(0.5, 0.5), []Test{*x, *x}, 2)
	require.NoError(t, err)
	assert.Equal(t, 0, got[0].Test)
	assert.Equal(t, got[0].Gain, got[1].Gain)
}

// TestOnlyAsManyAsAreWanted, and the best of them, though all are looked at.
func TestOnlyAsManyAsAreWanted(t *testing.T) {
	var tests []Test
	for i := range 20 {
		tests = append(tests, *single([]float64{0, float64(i*7%20) / 10}, []float64{1, 1}, 1))
	}
	got, err := Rank(apart(0.5, 0.5), tests, 2)
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, []float64{1.9, 1.8}, []float64{tests[got[0].Test].Mean[1][0], tests[got[1].Test].Mean[1][0]})
}

// TestTheShortestRunThatTellsMost: where the turbulence decides, a run must be long; where the fixed errors do, two
// minutes are as good as ten.
func TestTheShortestRunThatTellsMost(t *testing.T) {
	still := single([]float64{0, 1}, []float64{0, 0}, 1)
	wild := single([]float64{0, 1}, []float64{0, 0}, 1e-3)
	wild.Turbulence[0] = 600 // 1 after ten minutes
	got, err := Rank(apart(0.5, 0.5), []Test{*still, *wild}, 2)
	require.NoError(t, err)
	assert.Equal(t, 2*time.Minute, got[0].Duration)
	assert.Equal(t, 10*time.Minute, got[1].Duration)
	// near together the gain goes with the length of the run, so that 90 % of it takes 90 % of the longest
	for _, l := range Lengths {
		o, err := Expect(apart(0.5, 0.5), wild, l)
		require.NoError(t, err)
		assert.True(t, l == 10*time.Minute || o.Gain < enough*got[1].Gain, "%v brings %v nats", l, o.Gain)
	}
}

// TestContrastNamesTheChannel that shows the difference best, not the one where it is largest.
func TestContrastNamesTheChannel(t *testing.T) {
	x := Test{Mean: [][]float64{{10, 1}, {0, 0}}, Own: []*mat.SymDense{nil, nil}, Fixed: diagonal(400, 0.04), Turbulence: []float64{0, 0}}
	got, err := Rank(apart(0.3, 0.7), []Test{x}, 1)
	require.NoError(t, err)
	assert.Equal(t, Contrast{A: 1, B: 0, Channel: 1, Shift: -1, SD: 0.2}, got[0].Contrast)
}

// drawn is a random belief and a random test of it.
func drawn(t *rapid.T) (Belief, *Test) {
	n, channels := rapid.IntRange(1, 5).Draw(t, "suspects"), rapid.IntRange(1, 4).Draw(t, "channels")
	number := rapid.Float64Range(-5, 5)
	covariance := func(name string, floor float64) *mat.SymDense {
		s := mat.NewSymDense(channels, nil)
		for range channels {
			v := mat.NewVecDense(channels, nil)
			for c := range channels {
				v.SetVec(c, number.Draw(t, name))
			}
			s.SymRankOne(s, 0.1, v)
		}
		for c := range channels {
			s.SetSym(c, c, s.At(c, c)+floor)
		}
		return s
	}
	var b Belief
	x := &Test{Fixed: covariance("fixed", 0.05), Turbulence: make([]float64, channels)}
	for c := range channels {
		x.Turbulence[c] = rapid.Float64Range(0, 300).Draw(t, "turbulence")
	}
	for range n {
		b.Weight = append(b.Weight, rapid.Float64Range(0.01, 1).Draw(t, "weight"))
		b.Group = append(b.Group, rapid.IntRange(0, 2).Draw(t, "group"))
		m := make([]float64, channels)
		for c := range m {
			m[c] = number.Draw(t, "mean")
		}
		x.Mean, x.Own = append(x.Mean, m), append(x.Own, covariance("own", 0))
	}
	return b, x
}

// TestGainIsNeverNegativeAndNeverMoreThanThereIs.
func TestGainIsNeverNegativeAndNeverMoreThanThereIs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, x := drawn(t)
		all, err := b.Entropy()
		require.NoError(t, err)
		o, err := Expect(b, x, 3*time.Minute)
		require.NoError(t, err)
		assert.GreaterOrEqual(t, o.Gain, 0.0)
		assert.LessOrEqual(t, o.Gain, all+0.03, "nats; the lattice is not quite the integral")
		assert.LessOrEqual(t, o.Likeliest, 1+1e-12)
		again, err := Expect(b, x, 3*time.Minute)
		require.NoError(t, err)
		assert.Equal(t, o, again, "to the bit")
	})
}

// TestGainDoesNotHangOnUnitsOrOrder: neither on the unit or the zero of a channel, nor on which suspect is named first.
func TestGainDoesNotHangOnUnitsOrOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, x := drawn(t)
		o, err := Expect(b, x, 5*time.Minute)
		require.NoError(t, err)
		n, channels := len(b.Weight), x.channels()
		unit := make([]float64, channels)
		for c := range unit {
			unit[c] = rapid.Float64Range(0.01, 100).Draw(t, "unit")
		}
		in := func(s *mat.SymDense) *mat.SymDense {
			out := mat.NewSymDense(channels, nil)
			for i := range channels {
				for j := i; j < channels; j++ {
					out.SetSym(i, j, unit[i]*unit[j]*s.At(i, j))
				}
			}
			return out
		}
		other := &Test{Fixed: in(x.Fixed)}
		for c, v := range x.Turbulence {
			other.Turbulence = append(other.Turbulence, unit[c]*unit[c]*v)
		}
		var turned Belief
		for k := n - 1; k >= 0; k-- {
			m := make([]float64, channels)
			for c := range m {
				m[c] = unit[c] * (x.Mean[k][c] + 7)
			}
			other.Mean, other.Own = append(other.Mean, m), append(other.Own, in(x.Own[k]))
			turned.Weight, turned.Group = append(turned.Weight, 3*b.Weight[k]), append(turned.Group, b.Group[k])
		}
		p, err := Expect(turned, other, 5*time.Minute)
		require.NoError(t, err)
		assert.InDelta(t, o.Gain, p.Gain, 1e-6)
		assert.InDelta(t, o.Likeliest, p.Likeliest, 1e-6)
	})
}

// TestMoreIsNeverLess: neither a longer run nor one more channel tells less, nor do fewer groups tell more, but for what the
// lattice is off by.
func TestMoreIsNeverLess(t *testing.T) {
	const off = 0.03 // nats
	rapid.Check(t, func(t *rapid.T) {
		b, x := drawn(t)
		long, err := Expect(b, x, 10*time.Minute)
		require.NoError(t, err)
		short, err := Expect(b, x, 2*time.Minute)
		require.NoError(t, err)
		assert.LessOrEqual(t, short.Gain, long.Gain+off, "in less time")

		if n := x.channels(); n > 1 {
			first := func(s *mat.SymDense) *mat.SymDense { return s.SliceSym(0, n-1).(*mat.SymDense) }
			fewer := &Test{Fixed: first(x.Fixed), Turbulence: x.Turbulence[:n-1]}
			for k := range x.Mean {
				fewer.Mean, fewer.Own = append(fewer.Mean, x.Mean[k][:n-1]), append(fewer.Own, first(x.Own[k]))
			}
			o, err := Expect(b, fewer, 10*time.Minute)
			require.NoError(t, err)
			assert.LessOrEqual(t, o.Gain, long.Gain+off, "with a channel less")
		}
		coarse := Belief{Weight: b.Weight}
		for _, g := range b.Group {
			coarse.Group = append(coarse.Group, g/2)
		}
		o, err := Expect(coarse, x, 10*time.Minute)
		require.NoError(t, err)
		assert.LessOrEqual(t, o.Gain, long.Gain+off, "asked for less")
	})
}

// BenchmarkRank is a night's work: thirty gate sets, ten suspects, three channels.
func BenchmarkRank(b *testing.B) {
	belief := Belief{}
	tests := make([]Test, 30)
	for i := range tests {
		tests[i] = Test{Fixed: diagonal(1, 1, 1), Turbulence: []float64{60, 60, 60}}
	}
	for k := range 10 {
		belief.Weight, belief.Group = append(belief.Weight, 1/float64(k+1)), append(belief.Group, k)
		for i := range tests {
			tests[i].Mean = append(tests[i].Mean, []float64{math.Sin(float64(3*k + i)), math.Cos(float64(k * i)), float64(k%3) / 2})
			tests[i].Own = append(tests[i].Own, diagonal(0.1, 0.1, 0.1))
		}
	}
	for b.Loop() {
		if _, err := Rank(belief, tests, 5); err != nil {
			b.Fatal(err)
		}
	}
}

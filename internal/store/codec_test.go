package store

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestIntsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c coder
		v := drawInts(t)
		b := c.appendInts([]byte{7}, v)
		got := make([]int64, len(v))
		rest, err := readInts(append(b[1:], 9), got)
		require.NoError(t, err)
		assert.Equal(t, []byte{9}, rest)
		assert.Equal(t, v, got)
	})
}

// drawInts draws the shapes of columns that there are: even spacing, noise, seldom changes, and anything at all.
func drawInts(t *rapid.T) []int64 {
	n := rapid.IntRange(1, 700).Draw(t, "n")
	shape := rapid.SampledFrom([]string{"even", "noise", "steps", "any"}).Draw(t, "shape")
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	v := make([]int64, n)
	step := rapid.Int64().Draw(t, "step")
	for i := range v {
		switch shape {
		case "even":
			v[i] = int64(i) * step
		case "noise":
			v[i] = step + rng.Int64N(1<<rng.IntN(20)+1)
		case "steps":
			v[i] = v[max(i-1, 0)]
			if rng.IntN(50) == 0 {
				v[i] += step
			}
		case "any":
			v[i] = int64(rng.Uint64())
		}
	}
	return v
}

func TestFloatsRoundTripBitForBit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c coder
		v := drawFloats(t)
		b, hint := c.appendFloats(nil, v, 0)
		again, _ := c.appendFloats(nil, v, hint)
		for _, b := range [][]byte{b, again} {
			got := make([]float64, len(v))
			rest, err := readFloats(b, got)
			require.NoError(t, err)
			assert.Empty(t, rest)
			for i := range v {
				require.Equal(t, math.Float64bits(v[i]), math.Float64bits(got[i]), "number %d: want %g, got %g", i, v[i], got[i])
			}
		}
	})
}

func drawFloats(t *rapid.T) []float64 {
	n := rapid.IntRange(1, 500).Draw(t, "n")
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	shape := rapid.SampledFrom([]string{"counts", "lattice", "means", "bits"}).Draw(t, "shape")
	odd := rapid.SampledFrom([]int{0, 5, 100}).Draw(t, "odd numbers in a thousand")
	d := rapid.SampledFrom([]float64{1, 10, 60, 240, 1200, 7}).Draw(t, "divisor")
	origin, step := rapid.Float64Range(-1e5, 1e5).Draw(t, "origin"), rapid.Float64Range(1e-3, 10).Draw(t, "step")
	v := make([]float64, n)
	for i := range v {
		code := rng.IntN(2000) - 1000
		switch shape {
		case "counts":
			v[i] = float64(code) / d
		case "lattice":
			v[i] = origin + float64(float64(code)*step)
		case "means":
			v[i] = rng.NormFloat64() * 300
		case "bits":
			v[i] = math.Float64frombits(rng.Uint64())
		}
		if rng.IntN(1000) < odd {
			v[i] = []float64{math.NaN(), math.Copysign(0, -1), math.Inf(1), 1e300, 5e-324}[rng.IntN(5)]
		}
	}
	return v
}

// A column of counts must take no more than the noise in it: that is what the coding is for.
func TestCountsAreSmall(t *testing.T) {
	const n = 8192
	rng := rand.New(rand.NewPCG(3, 1))
	var c coder
	for _, tc := range []struct {
		name  string
		value func(code int) float64
	}{
		{"Sensirion SDP8xx at 60 counts a pascal", func(k int) float64 { return float64(k) / 60 }},
		{"pascals of a 14-bit span of 1 inH2O", func(k int) float64 { return (float64(k) - 1638) * 498.17782 / 13107 }},
		{"counts with an offset taken off", func(k int) float64 { return float64(k)/60 - 0.37123 }},
	} {
		v := make([]float64, n)
		for i := range v {
			v[i] = tc.value(2000 + int(rng.NormFloat64()*8)) // entropy of a normal of 8 codes: 5.05 bits
		}
		b, _ := c.appendFloats(nil, v, 0)
		bits := float64(len(b)) * 8 / n
		t.Logf("%s: %.2f bits a reading", tc.name, bits)
		assert.Less(t, bits, 5.05*1.1, tc.name)
	}
}

func TestBlockRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c coder
		rs := drawRecs(t)
		key := blockKey{channel: 1, boot: 3, mono: rs[0].mono}.bytes()
		b, _ := c.appendBlock(nil, key, rs, 0)
		got, err := readBlock(nil, key, b, 3)
		require.NoError(t, err)
		requireSameRecs(t, rs, got)

		at := rapid.IntRange(0, len(b)-1).Draw(t, "damaged byte")
		b[at] ^= 1 << rapid.IntRange(0, 7).Draw(t, "damaged bit")
		_, err = readBlock(nil, key, b, 3)
		require.Error(t, err)
	})
}

func drawRecs(t *rapid.T) []rec {
	v := drawFloats(t)
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "other seed"), 2))
	mono := rng.Int64N(int64(day) / 2)
	even := rapid.Bool().Draw(t, "even")
	full := rapid.Bool().Draw(t, "all columns")
	rs := make([]rec, len(v))
	for i := range rs {
		rs[i] = rec{mono: mono, seq: uint64(i * 3), val: v[i], sd: math.NaN(), boot: 3}
		if full {
			rs[i].sd, rs[i].span, rs[i].n, rs[i].q = rng.Float64(), 1e9, rng.Uint32N(30), uint8(rng.IntN(4))
		}
		mono += 1e9
		if !even {
			mono += rng.Int64N(1e9)
		}
	}
	return rs
}

func requireSameRecs(t require.TestingT, want, got []rec) {
	require.Len(t, got, len(want))
	for i := range want {
		w, g := want[i], got[i]
		require.Equal(t, math.Float64bits(w.val), math.Float64bits(g.val), "value of reading %d", i)
		require.Equal(t, math.IsNaN(w.sd), math.IsNaN(g.sd), "sd of reading %d", i)
		w.val, g.val = 0, 0
		if math.IsNaN(w.sd) {
			w.sd, g.sd = 0, 0
		}
		require.Equal(t, w, g, "reading %d", i)
	}
}

func TestRollUpsRoundTripAndAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		counts := rapid.Bool().Draw(t, "counts")
		rs := make([]rec, rapid.IntRange(1, 5000).Draw(t, "n"))
		mono := int64(0)
		for i := range rs {
			rs[i] = rec{mono: mono, val: rng.NormFloat64() * 100, boot: 1}
			if counts {
				rs[i].val = math.Round(rs[i].val*60) / 60
			}
			mono += rng.Int64N(15e9)
		}
		minutes := rollUp(rs, &levels[0])
		minutes = minutes[:min(len(minutes), 1440)]
		var c coder
		key := rollKey{1, 1, 0}.bytes()
		got, err := readRolls(key, c.appendRolls(nil, key, minutes), &levels[0])
		require.NoError(t, err)
		require.Len(t, got, len(minutes))
		for i, w := range minutes {
			g := got[i]
			require.Equal(t, [4]float64{float64(w.slot), float64(w.n), w.min, w.max},
				[4]float64{float64(g.slot), float64(g.n), g.min, g.max})
			require.InDelta(t, w.mean(), g.mean(), 100*1e-9, "rounded to 32 bits of mantissa")
		}
		all := rollUp(rs, &levels[1])
		again := coarsen(rollUp(rs, &levels[0]), &levels[0], &levels[1])
		require.True(t, slices.EqualFunc(all, again, func(a, b roll) bool {
			return a.slot == b.slot && a.n == b.n && a.min == b.min && a.max == b.max && math.Abs(a.sum-b.sum) < 1e-6
		}))
	})
}

package store

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/reading"
)

// TestAnyRowIsPacked: whatever readings come in a row, packed they come back bit for bit: over the ends of days and boots,
// out of order, at the ends of what each number can be, and with gaps of any size.
func TestAnyRowIsPacked(t *testing.T) {
	extreme := func(ends ...int64) *rapid.Generator[int64] {
		return rapid.OneOf(rapid.SampledFrom(ends), rapid.Int64Range(ends[0], ends[len(ends)-1]))
	}
	monos := extreme(0, 1, int64(day)-1, int64(day), int64(day)+1, 2*int64(day), math.MaxInt64-1, math.MaxInt64)
	steps := extreme(0, 1, int64(time.Second), int64(time.Hour), int64(day))
	rapid.Check(t, func(t *rapid.T) {
		r := rec{boot: 1, sd: math.NaN(), mono: monos.Draw(t, "mono")}
		beat := steps.Draw(t, "beat")
		at := rapid.SliceOfN(rapid.IntRange(0, packSize-1), 0, 3).Draw(t, "where something happens")
		rs := make([]rec, packSize)
		for i := range rs {
			if slices.Contains(at, i) {
				happens(t, &r, monos)
			}
			r.val = float64(i%7) / 60
			if r.mono += beat; r.mono < 0 {
				r.mono = math.MaxInt64
			}
			r.seq++
			rs[i] = r
		}
		p, _ := packOf(new(coder), rs, 0)
		requireSameRecs(t, rs, p.append(nil))
	})
}

func happens(t *rapid.T, r *rec, monos *rapid.Generator[int64]) {
	switch rapid.IntRange(0, 4).Draw(t, "what") {
	case 0:
		r.boot++
	case 1:
		r.mono = monos.Draw(t, "jump")
	case 2:
		r.seq += rapid.OneOf(rapid.SampledFrom([]uint64{1, 1 << 31, 1 << 32, 1 << 62, 1 << 63}), rapid.Uint64()).Draw(t, "gap")
	case 3:
		r.n, r.q = rapid.Uint32().Draw(t, "n"), rapid.Uint8().Draw(t, "quality")
	case 4:
		r.span, r.sd = monos.Draw(t, "span"), rapid.Float64().Draw(t, "sd")
	}
}

// TestOpenReadingsOverTheEndOfADay of monotonic time: a late reading of the day before keeps them from being sealed, so
// that they are packed. They come back while they are open, over a restart, and sealed.
func TestOpenReadingsOverTheEndOfADay(t *testing.T) {
	const midnight = 24 * 3600
	dir := t.TempDir()
	s := open(t, dir, Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, midnight-400, midnight+400)
	late := want[0]
	late.Channel, late.Seq = "south/static", 0
	require.NoError(t, s.Append(want))
	require.NoError(t, s.Append([]reading.Reading{late}))
	require.NoError(t, s.Commit())
	require.NotZero(t, s.byName["north/static"].open.packed)

	want = append([]reading.Reading{late}, want...)
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	requireSound(t, s)
	require.NoError(t, s.Append(want[:1]), "sent again")
	assert.Equal(t, uint64(1), s.Doubles())

	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	require.NoError(t, s.Seal())
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	requireSound(t, s)
}

package store

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/reading"
)

// TestHeldIsWhatWasPushed: whatever is pushed, packed and dropped, what is held is what a plain list would hold, bit for
// bit, and a visit finds all of a boot and a span.
func TestHeldIsWhatWasPushed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var h held
		var plain []rec
		var c coder
		seq, mono, boot, done := uint64(0), int64(0), uint32(1), 0
		for range rapid.IntRange(1, 40).Draw(t, "turns") {
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0:
				boot++
			case 1: // a clock that steps back within a boot, or a late reading
				mono = max(0, mono-int64(time.Minute))
			case 2:
				n := rapid.IntRange(done, h.len()).Draw(t, "dropped")
				if n >= h.packed {
					h.drop(n)
					plain, done = plain[n:], 0
				}
			case 3:
				done = h.len()
				h.pack(&c, done, 0)
			default:
				for range rapid.IntRange(1, 700).Draw(t, "pushed") {
					seq++
					mono += int64(time.Second)
					r := rec{mono: mono, seq: seq, val: float64(seq % 17), sd: math.NaN(), boot: boot}
					h.push(r)
					plain = append(plain, r)
				}
			}
			all := h.all()
			require.Equal(t, len(plain), h.len())
			require.Len(t, all, len(plain))
			for i := range all {
				if all[i].compare(&plain[i]) != 0 || all[i].val != plain[i].val {
					require.Fail(t, "another reading", "%d: %+v, pushed %+v", i, all[i], plain[i])
				}
			}
			if len(plain) > 0 {
				require.Zero(t, h.newest().compare(&plain[len(plain)-1]))
			}
			first, last := mono-int64(10*time.Minute), mono
			want, got := 0, 0
			in := func(r *rec) bool { return r.boot == boot && r.mono >= first && r.mono <= last }
			for i := range plain {
				if in(&plain[i]) {
					want++
				}
			}
			h.each(boot, first, last, func(r *rec) {
				if in(r) {
					got++
				}
			})
			require.Equal(t, want, got)
		}
	})
}

// TestRepairWritesWhatIsPackedAgain: what memory holds packed goes into the new file too.
func TestRepairWritesWhatIsPackedAgain(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(dir, Options{})
	require.NoError(t, err)
	boot, err := s.NewBoot()
	require.NoError(t, err)
	const n = 3 * packSize
	for i := range n {
		require.NoError(t, s.Append([]reading.Reading{{Channel: "main/trunk", Value: float64(i), Boot: boot,
			Mono: time.Duration(i+1) * time.Second, Seq: uint64(i + 1), SD: math.NaN()}}))
		if i%100 == 99 {
			require.NoError(t, s.Commit())
		}
	}
	require.NotZero(t, s.byName["main/trunk"].open.packed)
	_, err = s.Repair(errors.New("a page makes no sense"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	s, err = Open(dir, Options{})
	require.NoError(t, err)
	defer s.Close()
	got := 0
	for r, err := range s.Readings(context.Background(), ReadQuery{}) {
		require.NoError(t, err)
		require.InDelta(t, float64(got), r.Value, 0)
		got++
	}
	assert.Equal(t, n, got)
}

// TestDoublesOfSealedReadingsCountOnceInAChart while they are open.
func TestDoublesOfSealedReadingsCountOnceInAChart(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(dir, Options{})
	require.NoError(t, err)
	boot, err := s.NewBoot()
	require.NoError(t, err)
	zero := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	require.NoError(t, s.PlaceBoot(boot, zero))
	var rs []reading.Reading
	for i := range 100 {
		rs = append(rs, reading.Reading{Channel: "main/trunk", Value: float64(i), Boot: boot, Mono: time.Duration(i+1) * time.Second,
			Seq: uint64(i + 1), SD: math.NaN()})
	}
	require.NoError(t, s.Append(rs))
	require.NoError(t, s.Seal())
	count := func() int {
		b, err := s.Chart("main/trunk", zero, zero.Add(time.Hour), 120)
		require.NoError(t, err)
		n := 0
		for i := range b {
			n += b[i].N
		}
		return n
	}
	require.Equal(t, 100, count())
	require.NoError(t, s.Append(rs[40:]))
	assert.Equal(t, 100, count(), "sent again")
	rs[99].Seq, rs[99].Mono = 101, 101*time.Second
	require.NoError(t, s.Append(rs[99:]))
	assert.Equal(t, 101, count(), "and one that is new")
	require.NoError(t, s.Seal())
	assert.Equal(t, 101, count())

	require.NoError(t, s.Append(rs[40:99]))
	require.NoError(t, s.Commit())
	require.NoError(t, s.Close())
	s, err = Open(dir, Options{})
	require.NoError(t, err)
	defer s.Close()
	assert.Equal(t, 101, count(), "sent again, and open over a restart")
}

// Boots come in the order of their numbers, however far apart: those of a file may have any.
func TestOrderOfBoots(t *testing.T) {
	first, last := rec{boot: 1, mono: 5}, rec{boot: math.MaxUint32}
	assert.Negative(t, first.compare(&last))
	assert.Positive(t, last.compare(&first))
	assert.Zero(t, last.compare(&last))
}

package store

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"ductward/internal/reading"
)

// On buckets that are whole slots of each level, every level must say the same of the same readings.
func TestChartLevelsAgreeWithTheRawReadings(t *testing.T) {
	const seed = 7
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	var rs []reading.Reading
	for at := time.Duration(0); at < 5*day; at += time.Duration(1+rng.IntN(40)) * time.Second {
		rs = append(rs, reading.Reading{Channel: "north/static", Value: -1500 + 100*rng.NormFloat64(), SD: math.NaN(), Boot: boot, Mono: at, Seq: uint64(len(rs))})
	}
	sealed := len(rs) - 500
	require.NoError(t, s.Append(rs[:sealed]))
	require.NoError(t, s.Seal())
	require.NoError(t, s.Append(rs[sealed:]), "the newest are open")

	for _, tc := range []struct {
		level int
		n     int
	}{{-1, 5 * 24 * 120}, {0, 5 * 24 * 60}, {0, 5 * 24 * 2}, {1, 5 * 24}, {1, 10}, {2, 5}, {2, 1}} {
		require.Equal(t, tc.level, levelFor(5*day/time.Duration(tc.n)), "%d buckets", tc.n)
		got, err := s.Chart("north/static", noon, noon.Add(5*day), tc.n)
		require.NoError(t, err)
		require.Len(t, got, tc.n)
		want := make([]roll, tc.n)
		for i := range rs {
			want[int64(rs[i].Mono)*int64(tc.n)/int64(5*day)].add(rs[i].Value)
		}
		for i, b := range got {
			require.Equal(t, int(want[i].n), b.N, "count of bucket %d of %d", i, tc.n)
			if b.N == 0 {
				require.True(t, math.IsNaN(b.Mean))
				continue
			}
			require.Equal(t, want[i].min, b.Min)
			require.Equal(t, want[i].max, b.Max)
			require.InDelta(t, want[i].mean(), b.Mean, 1500*meanTolerance)
		}
		assert.Equal(t, noon, got[0].Start)
		assert.Equal(t, noon.Add(5*day), got[tc.n-1].End)
	}
}

func TestChartEdges(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	newBoot(t, s, time.Time{})
	require.NoError(t, s.Append(seconds(boot, 0, 100)))
	got, err := s.Chart("north/filter", noon.Add(10*time.Second), noon.Add(17*time.Second), 3)
	require.NoError(t, err)
	n := 0
	for i, b := range got {
		n += b.N
		if i > 0 {
			assert.Equal(t, got[i-1].End, b.Start)
		}
	}
	assert.Equal(t, 7, n, "each reading in one bucket, none from outside")
	got, err = s.Chart("north/filter", noon.Add(-time.Hour), noon, 10)
	require.NoError(t, err)
	assert.Zero(t, got[9].N)

	got, err = s.Chart("north/nothing", noon, noon.Add(time.Hour), 2)
	require.NoError(t, err, "a sensor that has never read")
	require.Len(t, got, 2)
	assert.Zero(t, got[0].N+got[1].N)
	assert.True(t, math.IsNaN(got[0].Mean))
	assert.Equal(t, noon.Add(30*time.Minute), got[1].Start)
	_, err = s.Chart("north/filter", noon, noon, 1)
	assert.ErrorContains(t, err, "want 1 to 100000 buckets and a start before its end")
}

func TestPruneKeepsWhatItShould(t *testing.T) {
	s := open(t, t.TempDir(), Options{KeepRaw: 2 * day, KeepMinutes: 4 * day})
	boot, unplaced := newBoot(t, s, noon), newBoot(t, s, time.Time{})
	for d := range 8 {
		for sec := 0; sec < 86400; sec += 20 {
			at := d*86400 + sec
			require.NoError(t, s.Append([]reading.Reading{
				{Channel: "north/filter", Value: float64(at % 977), SD: math.NaN(), Boot: boot, Mono: time.Duration(at) * time.Second, Seq: uint64(at)},
				{Channel: "north/filter", Value: 1, SD: math.NaN(), Boot: unplaced, Mono: time.Duration(at) * time.Second, Seq: uint64(at)},
			}))
		}
	}
	require.NoError(t, s.Seal())
	before, err := s.Chart("north/filter", noon, noon.Add(8*day), 8)
	require.NoError(t, err)

	n, err := s.Prune(noon.Add(8 * day))
	require.NoError(t, err)
	assert.Positive(t, n)
	requireSound(t, s)
	rs := all(t, s, ReadQuery{From: noon})
	assert.Equal(t, 6*day, rs[0].Mono, "two days of raw readings are left")
	assert.Equal(t, time.Duration(0), all(t, s, ReadQuery{})[len(rs)].Mono, "a boot that is not placed is left alone")
	after, err := s.Chart("north/filter", noon, noon.Add(8*day), 8)
	require.NoError(t, err)
	assert.Equal(t, before, after, "days are kept")

	// One bucket of half a minute: raw readings where there are any, then minutes, then hours.
	count := func(d int) int {
		got, err := s.Chart("north/filter", noon.Add(time.Duration(d)*day), noon.Add(time.Duration(d)*day+time.Minute), 2)
		require.NoError(t, err)
		return got[0].N
	}
	assert.Equal(t, 2, count(7), "raw: two in half a minute")
	assert.Equal(t, 3, count(5), "a minute")
	assert.Equal(t, 180, count(1), "an hour")

	n, err = s.Prune(noon.Add(8 * day))
	require.NoError(t, err)
	assert.Zero(t, n, "nothing is left to delete")
}

// Charts and readings are whole at every moment while readings are appended, committed and sealed.
func TestReadersWhileTheSamplerWrites(t *testing.T) {
	s := open(t, t.TempDir(), Options{MaxOpen: 3000})
	boot := newBoot(t, s, noon)
	const n = 30000
	appended := make(chan int, 1)
	g, ctx := errgroup.WithContext(t.Context())
	g.Go(func() error {
		defer close(appended)
		for i := 0; i < n; i += 10 {
			if err := s.Append(seconds(boot, i, i+10)); err != nil {
				return err
			}
			if i%100 == 0 {
				if err := s.Commit(); err != nil {
					return err
				}
			}
			select {
			case appended <- i + 10:
			default:
			}
		}
		return nil
	})
	g.Go(func() error {
		for least := range appended {
			if err := readWhole(ctx, s, least); err != nil {
				return err
			}
		}
		return nil
	})
	require.NoError(t, g.Wait())
	requireSound(t, s)
}

// readWhole tests that at least so many seconds are there, each once and in order, and that a chart counts as many.
func readWhole(ctx context.Context, s *Store, least int) error {
	next := 0
	for r, err := range s.Readings(ctx, ReadQuery{}) {
		if err != nil {
			return err
		}
		if r.Seq != uint64(next) {
			return fmt.Errorf("want sequence %d, got %d", next, r.Seq)
		}
		next++
	}
	if next < 2*least {
		return fmt.Errorf("%d readings, and %d were appended", next, 2*least)
	}
	minutes := least / 60
	if minutes == 0 {
		return nil
	}
	got, err := s.Chart("north/filter", noon, noon.Add(time.Duration(minutes)*time.Minute), minutes)
	for i, b := range got {
		if b.N != 60 {
			return fmt.Errorf("the chart counts %d readings in minute %d", b.N, i)
		}
	}
	return err
}

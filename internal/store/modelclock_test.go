package store

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/reading"
)

const years50 = 50 * 8766 * time.Hour

// jumps are what clocks of small boards have been seen to do, and worse.
var jumps = []time.Duration{time.Second, -time.Second, time.Hour, -time.Hour, 26 * time.Hour, -72 * time.Hour, years50, -years50}

// jump sets the clock of the running board: the boot is placed anew, with all that it has read.
func (m *model) jump(t *rapid.T) {
	m.civil += rapid.SampledFrom(jumps).Draw(t, "jump")
	if m.civil > years50 || m.civil < -years50 {
		m.civil = 0
	}
	m.place(t, m.boot)
}

// placeEarlier places a boot that is over by the clock as it is now.
func (m *model) placeEarlier(t *rapid.T) {
	m.place(t, uint32(rapid.IntRange(1, int(m.boot)).Draw(t, "boot")))
}

// place gives the time in a zone that has summer time; that must make no difference.
func (m *model) place(t *rapid.T, boot uint32) {
	zero := noon.Add(time.Duration(boot) * 40 * time.Hour).Add(m.civil)
	m.zero[boot] = time.Unix(0, zero.UnixNano()).UTC()
	require.NoError(t, m.s.PlaceBoot(boot, zero.In(summerTime)))
}

// summerTime goes one hour forward at 01:00 UTC on 29 March 2026, by European Union Directive 2000/84/EC, articles 1 and 2.
var summerTime = func() *time.Location {
	l, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		panic(err) // the tests need the time zones of the system or of Go
	}
	return l
}()

// powerCut opens what is on the card and forgets the memory: what was promised is there, then what happened to be
// written, and nothing else.
func (m *model) powerCut(t *rapid.T) {
	b, err := os.ReadFile(m.s.Path())
	require.NoError(t, err)
	require.NoError(t, m.s.Close())
	dir, err := os.MkdirTemp(m.dir, "cut-")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), b, 0o644))
	m.dir = dir
	m.open(t)
	require.Empty(t, m.s.Notices())
	n := 0
	for _, err := range m.s.Readings(t.Context(), ReadQuery{}) {
		require.NoError(t, err)
		n++
	}
	require.GreaterOrEqual(t, n, m.committed, "promised readings")
	require.LessOrEqual(t, n, len(m.rs))
	m.rs = m.rs[:n] // check tells whether they are these
	m.seal(t)       // doubles that were open are counted anew
	m.doubles = int(m.s.Doubles())
}

// prune lets go of old readings by the clock of the board, right or wrong.
func (m *model) prune(t *rapid.T) {
	m.seal(t)
	now := noon.Add(m.civil).Add(time.Duration(rapid.IntRange(0, 400).Draw(t, "hours")) * time.Hour)
	_, err := m.s.Prune(now)
	require.NoError(t, err)
	for boot, zero := range m.zero {
		limit := (now.Sub(zero) - m.s.opt.KeepRaw) / (24 * time.Hour) * (24 * time.Hour)
		if zero.IsZero() || limit <= m.kept[boot] {
			continue
		}
		m.kept[boot] = limit
		m.rs = slices.DeleteFunc(m.rs, func(r reading.Reading) bool {
			gone := r.Boot == boot && r.Mono < limit
			if gone {
				m.pruned = append(m.pruned, r)
			}
			return gone
		})
	}
	m.committed = len(m.rs)
}

// chart compares a chart of raw readings bucket by bucket.
func (m *model) chart(t *rapid.T) {
	const n, width = 400, 50 * time.Second
	from := noon.Add(m.civil).Add(time.Duration(rapid.IntRange(-10_000, 400_000).Draw(t, "from")) * time.Second)
	name := rapid.SampledFrom(modelChannels).Draw(t, "channel")
	want := make([]Bucket, n)
	for _, r := range m.rs {
		zero := m.zero[r.Boot]
		if zero.IsZero() || r.Channel != name || math.IsNaN(r.Value) {
			continue
		}
		if from.Add(-2 * n * width).Before(zero.Add(m.kept[r.Boot])) {
			return // some of it has been let go, and coarser levels serve: chartOfAll looks at those
		}
		if at := zero.Add(r.Mono).Sub(from); at >= 0 && at < n*width {
			want[at/width].add(r.Value)
		}
	}
	got := m.draw(t, name, from, from.Add(n*width), n)
	for i, b := range got {
		require.Equal(t, want[i].N, b.N, "bucket %d", i)
		if b.N > 0 {
			require.Equal(t, [2]float64{want[i].Min, want[i].Max}, [2]float64{b.Min, b.Max}, "bucket %d", i)
			require.InDelta(t, want[i].Mean/float64(b.N), b.Mean, 1e-9*(1+math.Abs(b.Mean)), "bucket %d", i)
		}
	}
}

// add sums a value into the bucket of a model; the mean is divided later.
func (b *Bucket) add(v float64) {
	if b.N == 0 {
		b.Min, b.Max = v, v
	}
	b.N, b.Min, b.Max, b.Mean = b.N+1, min(b.Min, v), max(b.Max, v), b.Mean+v
}

// chartOfAll counts in one chart, from the coarsest level, what has been read in all years, the part of it that has been
// let go too: once each.
func (m *model) chartOfAll(t *rapid.T) {
	name := rapid.SampledFrom(modelChannels).Draw(t, "channel")
	want, got := Bucket{}, Bucket{Min: math.Inf(1), Max: math.Inf(-1)}
	for _, r := range slices.Concat(m.rs, m.pruned) {
		if !m.zero[r.Boot].IsZero() && r.Channel == name && !math.IsNaN(r.Value) {
			want.add(r.Value)
		}
	}
	for _, b := range m.draw(t, name, noon.Add(-2*years50), noon.Add(2*years50), 40) {
		if b.N > 0 {
			got.N, got.Min, got.Max = got.N+b.N, min(got.Min, b.Min), max(got.Max, b.Max)
		}
	}
	require.Equal(t, want.N, got.N)
	if want.N > 0 {
		require.Equal(t, [2]float64{want.Min, want.Max}, [2]float64{got.Min, got.Max})
	}
}

func (m *model) draw(t *rapid.T, name string, from, to time.Time, n int) []Bucket {
	if m.s.Latest()[name].Channel == "" {
		return nil
	}
	if m.unsettled {
		m.seal(t) // an open double of a sealed reading counts until then
	}
	got, err := m.s.Chart(name, from.In(summerTime), to.In(summerTime), n)
	require.NoError(t, err)
	return got
}

// Over the hours in which the clocks of a country go forward or back, readings are as far apart as ever, and an hour of
// a chart holds an hour.
func TestSummerTimeHasNoEffect(t *testing.T) {
	for _, change := range []time.Time{time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC), time.Date(2026, 10, 25, 1, 0, 0, 0, time.UTC)} {
		s := open(t, t.TempDir(), Options{})
		from := change.Add(-3 * time.Hour)
		boot := newBoot(t, s, from.In(summerTime))
		require.NoError(t, s.Append(seconds(boot, 0, 6*3600)))
		require.NoError(t, s.Seal())
		rs := all(t, s, ReadQuery{Channels: []string{"north/filter"}, From: from.In(summerTime), To: from.Add(6 * time.Hour).In(summerTime)})
		require.Len(t, rs, 6*3600)
		for i, r := range rs {
			require.True(t, r.Time.Equal(from.Add(time.Duration(i)*time.Second)), "reading %d at %v", i, r.Time)
		}
		buckets, err := s.Chart("north/filter", from.In(summerTime), from.Add(6*time.Hour).In(summerTime), 6)
		require.NoError(t, err)
		for i, b := range buckets {
			assert.Equal(t, 3600, b.N, "hour %d from %v", i, b.Start)
		}
	}
}

// A clock that jumps by 50 years and back, in a boot and between two, neither reorders nor loses nor doubles a reading,
// whatever was committed or sealed in between.
func TestClocksThatJumpByFiftyYearsMoveLabelsOnly(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	var want []string
	for i, jump := range []time.Duration{0, years50, -years50, time.Hour, -25 * time.Hour} {
		boot := newBoot(t, s, time.Time{})
		for part := range 3 {
			rs := seconds(boot, 40*part, 40*part+40)
			require.NoError(t, s.Append(rs))
			require.NoError(t, []func() error{s.Commit, s.Seal, s.Commit}[part]())
			require.NoError(t, s.PlaceBoot(boot, noon.Add(time.Duration(1-part)*jump)))
			for _, r := range rs {
				r.Time = noon.Add(-jump).Add(r.Mono)
				want = append(want, fmt.Sprintf("%+v", r))
			}
		}
		if i == 2 {
			require.NoError(t, s.Close())
			s = open(t, dir, Options{})
		}
	}
	var got []string
	for _, r := range all(t, s, ReadQuery{}) {
		got = append(got, fmt.Sprintf("%+v", r))
	}
	require.Equal(t, want, got)
	requireSound(t, s)
}

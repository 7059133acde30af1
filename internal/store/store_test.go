package store

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"go.uber.org/goleak"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/fixedseed"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/steady"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(writerFolder); dir != "" {
		os.Exit(writeUntilKilled(dir, os.Getenv(writerLast)))
	}
	if dir := os.Getenv(compactorFolder); dir != "" {
		os.Exit(compactUntilKilled(dir))
	}
	fixedseed.Set("20260301")
	goleak.VerifyTestMain(m)
}

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func open(t testing.TB, dir string, opt Options) *Store {
	t.Helper()
	s, err := Open(dir, opt)
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func newBoot(t testing.TB, s *Store, zero time.Time) uint32 {
	t.Helper()
	boot, err := s.NewBoot()
	require.NoError(t, err)
	if !zero.IsZero() {
		require.NoError(t, s.PlaceBoot(boot, zero))
	}
	return boot
}

func all(t testing.TB, s *Store, q ReadQuery) []reading.Reading {
	t.Helper()
	var out []reading.Reading
	for r, err := range s.Readings(context.Background(), q) {
		if err != nil { // of each reading, require would cost more than the reading
			require.NoError(t, err)
		}
		out = append(out, r)
	}
	return out
}

func requireSound(t testing.TB, s *Store) {
	t.Helper()
	breaches, err := s.Check()
	require.NoError(t, err)
	require.Empty(t, breaches)
}

// second gives one reading of each of two channels for each second in [from, to).
func seconds(boot uint32, from, to int) []reading.Reading {
	rs := make([]reading.Reading, 0, 2*(to-from))
	for i := from; i < to; i++ {
		at := time.Duration(i) * time.Second
		rs = append(rs,
			reading.Reading{Channel: "north/filter", Value: float64(i*7%600) / 60, SD: math.NaN(), Boot: boot, Mono: at, Seq: uint64(2 * i)},
			reading.Reading{Channel: "north/static", Value: -math.Sqrt(float64(i)), SD: 0.5, N: 10, Span: time.Second, Boot: boot, Mono: at, Seq: uint64(2*i + 1)})
	}
	return rs
}

// alike tells whether two readings are the same, of which some values may not be known.
func alike(a, b *reading.Reading) bool {
	x, y := *a, *b
	same := x.Time.Equal(y.Time) && (x.Value == y.Value || math.IsNaN(x.Value) && math.IsNaN(y.Value)) && (x.SD == y.SD || math.IsNaN(x.SD) && math.IsNaN(y.SD))
	x.Time, x.Value, x.SD, y.Time, y.Value, y.SD = time.Time{}, 0, 0, time.Time{}, 0, 0
	return same && x == y
}

// same compares readings with the times that they were given.
func requireSame(t testing.TB, want, got []reading.Reading, zero time.Time) {
	t.Helper()
	require.Len(t, got, len(want))
	for i := range want {
		w, g := want[i], got[i]
		if !zero.IsZero() {
			w.Time = zero.Add(w.Mono)
		}
		if !alike(&w, &g) { // what they are in words would cost more than the test
			require.Equal(t, fmt.Sprintf("%+v", w), fmt.Sprintf("%+v", g), "reading %d", i)
		}
	}
}

func TestReadingsComeBackFromPiecesBlocksAndMemory(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, 0, 9000)
	for i := 0; i < len(want); i += 60 {
		require.NoError(t, s.Append(want[i:i+60]))
		require.NoError(t, s.Commit())
	}
	require.NoError(t, s.Append(seconds(boot, 9000, 9010)))
	want = append(want, seconds(boot, 9000, 9010)...)
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	requireSound(t, s)

	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	requireSound(t, s)
	latest := s.Latest()
	require.Len(t, latest, 2)
	requireSame(t, want[len(want)-2:], []reading.Reading{latest["north/filter"], latest["north/static"]}, noon)
	assert.Empty(t, s.Notices())
}

func TestQueryCutsChannelsTimesAndCursor(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, 0, 20000)
	require.NoError(t, s.Append(want))
	require.NoError(t, s.Commit())

	got := all(t, s, ReadQuery{From: noon.Add(5000 * time.Second), To: noon.Add(12000 * time.Second)})
	requireSame(t, want[10000:24000], got, noon)

	got = all(t, s, ReadQuery{Channels: []string{"north/static"}, From: noon.Add(19999 * time.Second)})
	requireSame(t, want[39999:], got, noon)

	got = all(t, s, ReadQuery{After: Cursor{Boot: boot, Mono: 7000 * time.Second, Seq: 14000}})
	requireSame(t, want[14001:], got, noon)

	assert.Empty(t, all(t, s, ReadQuery{To: noon}))
	assert.Empty(t, all(t, s, ReadQuery{Channels: []string{"south/filter"}}))
}

func TestReadingsOfABootArePlacedAfterwards(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, time.Time{})
	want := seconds(boot, 0, 5000)
	require.NoError(t, s.Append(want))
	require.NoError(t, s.Seal())
	requireSame(t, want, all(t, s, ReadQuery{}), time.Time{})
	assert.Empty(t, all(t, s, ReadQuery{From: noon.Add(-1e6 * time.Hour)}), "a reading with no time lies in no span of time")

	require.NoError(t, s.PlaceBoot(boot, noon))
	requireSame(t, want, all(t, s, ReadQuery{}), noon)

	// The clock turns out to have been 50 years wrong.
	right := noon.AddDate(50, 0, 0)
	require.NoError(t, s.PlaceBoot(boot, right))
	requireSame(t, want, all(t, s, ReadQuery{From: right}), right)
	assert.ErrorContains(t, s.PlaceBoot(99, noon), "place boot 99: it is not known: take a number from NewBoot")
	assert.ErrorContains(t, s.PlaceBoot(boot, time.Time{}), "year 1 is outside 1678 to 2261")
}

func TestDoublesAreDroppedAndCounted(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, 0, 100)
	require.NoError(t, s.Append(want))
	require.NoError(t, s.Append(want[50:60]))
	assert.EqualValues(t, 10, s.Doubles(), "doubles of what is open are dropped at once")
	requireSame(t, want, all(t, s, ReadQuery{}), noon)

	require.NoError(t, s.Seal())
	require.NoError(t, s.Append(want[20:40]))
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	require.NoError(t, s.Seal())
	assert.EqualValues(t, 30, s.Doubles(), "doubles of what is sealed are found when they are sealed")
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	requireSound(t, s)
}

func TestLateReadingsFindTheirPlace(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, 0, 200)
	require.NoError(t, s.Append(want[:100]))
	require.NoError(t, s.Append(want[300:]))
	require.NoError(t, s.Seal())
	require.NoError(t, s.Append(want[200:300]))
	require.NoError(t, s.Seal())
	require.NoError(t, s.Append(want[100:200]))
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	require.NoError(t, s.Seal())
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	requireSound(t, s)
}

func TestAppendRefusesWhatNoReadingCanBe(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	good := reading.Reading{Channel: "north/filter", SD: math.NaN(), Boot: boot}
	for _, tc := range []struct {
		want   string
		change func(*reading.Reading)
	}{
		{`channel "": a name has 1 to 255 bytes, none of them 0`, func(r *reading.Reading) { r.Channel = "" }},
		{`channel "north/filter": value NaN is not a number that a sensor can read`, func(r *reading.Reading) { r.Value = math.NaN() }},
		{`channel "gate/saw": value +Inf is not a number that a sensor can read`, func(r *reading.Reading) { r.Channel, r.Value = "gate/saw", math.Inf(1) }},
		{`channel "north/filter": standard deviation -1 is not 0 or more`, func(r *reading.Reading) { r.SD = -1 }},
		{`channel "north/filter": boot 0 marks readings from a file: use Import, which gives them a boot`, func(r *reading.Reading) { r.Boot = 0 }},
		{`channel "north/filter": boot 9 is not known: take a number from NewBoot`, func(r *reading.Reading) { r.Boot = 9 }},
		{`channel "north/filter": monotonic time -1ns or span 0s is below 0`, func(r *reading.Reading) { r.Mono = -1 }},
	} {
		r := good
		tc.change(&r)
		assert.EqualError(t, s.Append([]reading.Reading{r}), tc.want)
	}
	assert.Empty(t, all(t, s, ReadQuery{}))
	require.NoError(t, s.Append([]reading.Reading{{Channel: "gate/saw", Value: math.NaN(), Boot: boot, SD: math.NaN()}}))
	assert.Len(t, all(t, s, ReadQuery{}), 1, "a gate may be not known")
}

func TestSecondProcessIsTold(t *testing.T) {
	dir := t.TempDir()
	open(t, dir, Options{})
	start := time.Now()
	_, err := Open(dir, Options{OpenTimeout: 50 * time.Millisecond})
	require.ErrorIs(t, err, ErrInUse)
	assert.EqualError(t, err, "open "+filepath.Join(dir, FileName)+": another process is using it (process "+strconv.Itoa(os.Getpid())+"): stop the other ductward, or choose another data folder")
	assert.Less(t, time.Since(start), 5*time.Second)
}

func TestBulkKeepsEverythingOnceItEnds(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{MaxOpen: 5000})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Bulk(true))
	want := seconds(boot, 0, 8000)
	for i := 0; i < len(want); i += 100 {
		require.NoError(t, s.Append(want[i:i+100]))
		require.NoError(t, s.AppendRuns([]steady.Run{{Collector: "north", Boot: boot, End: time.Duration(i)}}))
		require.NoError(t, s.Commit())
	}
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	require.NoError(t, s.Bulk(false))
	assert.False(t, s.db.NoSync)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	n := 0
	for _, err := range s.Runs("north") {
		require.NoError(t, err)
		n++
	}
	assert.Equal(t, 160, n)
	requireSound(t, s)
}

func TestClosedStoreSaysSo(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Close())
	assert.ErrorIs(t, s.Close(), ErrClosed)
	assert.ErrorIs(t, s.Append(seconds(boot, 0, 1)), ErrClosed)
	assert.ErrorIs(t, s.Commit(), ErrClosed)
	_, err := s.AddJournal(journal.Entry{})
	assert.ErrorIs(t, err, ErrClosed)
	assert.ErrorIs(t, s.AppendRuns(nil), ErrClosed)
}

func TestRecordsComeBack(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	boot := newBoot(t, s, noon)
	entries := []journal.Entry{{Time: noon, Kind: journal.FilterCleaned, Subject: "north", Note: "täglich", By: "Ada"}, {Time: noon.Add(-time.Hour), Kind: journal.Other}}
	for i, e := range entries {
		n, err := s.AddJournal(e)
		require.NoError(t, err)
		assert.EqualValues(t, i+1, n)
	}
	fs := []finding.Finding{{ID: "b", Kind: finding.NewLeak, Raised: noon, Size: math.NaN(), SizeLow: 1, SizeHigh: 2, Confidence: 0.9,
		Where: []finding.Place{{Part: "run:main", Probability: 1}}}, {ID: "a", Raised: noon.Add(time.Hour)}}
	require.NoError(t, s.PutFindings("north", fs))
	require.NoError(t, s.PutFindings("northwest", []finding.Finding{{ID: "c", Raised: noon}}))
	alarms := []alarm.Alarm{{ID: "a", State: alarm.ActiveUnacknowledged, Raised: noon}, {ID: "b"}}
	require.NoError(t, s.PutAlarms(alarms))
	require.NoError(t, s.PutBaseline("north", 2, []byte{1, 2}))
	require.NoError(t, s.PutBaseline("north", 10, []byte("x")))
	require.NoError(t, s.PutShop([]byte("shop: 1"), noon))
	require.NoError(t, s.PutShop([]byte("shop: 1"), noon.Add(time.Hour)))
	require.NoError(t, s.PutShop([]byte("shop: 2"), noon.Add(time.Hour)))
	runs := []steady.Run{
		{Collector: "north", Kind: steady.Closed, Boot: boot, Start: time.Hour, End: 2 * time.Hour, Open: []string{"saw"}, Channels: []steady.Summary{{Channel: "north/filter", Mean: 812.3, SD: math.NaN(), N: 9}}},
		{Collector: "north", Boot: boot, Start: 0, End: time.Hour},
		{Collector: "north west", Boot: boot, End: time.Minute},
	}
	require.NoError(t, s.AppendRuns(runs[:1]))
	require.NoError(t, s.Commit())
	require.NoError(t, s.AppendRuns(runs[1:]))
	require.NoError(t, s.AppendRuns(runs[:1]), "folded again")

	check := func() {
		t.Helper()
		got, err := s.Journal()
		require.NoError(t, err)
		assert.Equal(t, entries, got)
		found, err := s.Findings("north")
		require.NoError(t, err)
		require.Len(t, found, 2)
		assert.True(t, math.IsNaN(found[0].Size))
		found[0].Size, fs[0].Size = 0, 0
		assert.Equal(t, fs, found)
		fs[0].Size = math.NaN()
		as, err := s.Alarms()
		require.NoError(t, err)
		assert.Equal(t, alarms, as)
		bs, err := s.Baselines("north")
		require.NoError(t, err)
		assert.Equal(t, []Baseline{{2, []byte{1, 2}}, {10, []byte("x")}}, bs)
		shops, err := s.Shops()
		require.NoError(t, err)
		assert.Equal(t, []Shop{{noon, []byte("shop: 1")}, {noon.Add(time.Hour), []byte("shop: 2")}}, shops)
		var rs []steady.Run
		for r, err := range s.Runs("north") {
			require.NoError(t, err)
			rs = append(rs, r)
		}
		require.Len(t, rs, 2)
		assert.Equal(t, noon.Add(time.Hour), rs[0].At, "placed by its boot")
		assert.Equal(t, noon.Add(2*time.Hour), rs[1].At)
		assert.True(t, math.IsNaN(rs[1].Channels[0].SD))
		rs[1].At, rs[1].Channels[0].SD = time.Time{}, 0
		want := runs[0]
		want.Channels = []steady.Summary{want.Channels[0]}
		want.Channels[0].SD = 0
		assert.Equal(t, want, rs[1])
		for _, c := range []struct {
			boot uint32
			end  time.Duration
			n    int
		}{{0, 0, 2}, {boot, time.Hour, 2}, {boot, time.Hour + 1, 1}, {boot, 2 * time.Hour, 1}, {boot, 2*time.Hour + 1, 0}, {boot + 1, 0, 0}} {
			n := 0
			for _, err := range s.RunsFrom("north", c.boot, c.end) {
				require.NoError(t, err)
				n++
			}
			assert.Equal(t, c.n, n, "from boot %d, %v", c.boot, c.end)
		}
	}
	check()
	requireSound(t, s)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	check()
	requireSound(t, s)
	fs[1].Ended = noon.Add(3 * time.Hour)
	require.NoError(t, s.PutFindings("north", fs[1:]))
	check()
}

func TestEndlessRunOfACollectorIsRefused(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	err := s.AppendRuns([]steady.Run{{Collector: "north", Channels: []steady.Summary{{Mean: math.Inf(1)}}}})
	assert.ErrorContains(t, err, "+Inf cannot be stored: a size is finite or not known")
	require.NoError(t, s.Commit())
}

func TestDamagedBlockCostsThatBlockAndIsNamed(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, 0, 3*fullBlock)
	require.NoError(t, s.Append(want))
	require.NoError(t, s.Seal())
	key := blockKey{channel: 1, boot: boot, mono: fullBlock * 1e9}
	require.NoError(t, s.db.Update(func(tx *bolt.Tx) error {
		v := append([]byte(nil), tx.Bucket(bucketBlocks).Get(key.bytes())...)
		v[len(v)/2] ^= 1
		return tx.Bucket(bucketBlocks).Put(key.bytes(), v)
	}))

	var damage []error
	var got []reading.Reading
	for r, err := range s.Readings(context.Background(), ReadQuery{}) {
		if err != nil {
			damage = append(damage, err)
			continue
		}
		got = append(got, r)
	}
	require.Len(t, damage, 1)
	assert.ErrorContains(t, damage[0], `bucket "blocks", key channel 1, boot 1, 10800000000000 ns, serial 0, north/filter: fails its checksum`)
	assert.Len(t, got, len(want)-fullBlock, "all others are there")

	breaches, err := s.Check()
	require.NoError(t, err)
	require.Len(t, breaches, 1)
	assert.Equal(t, 3, breaches[0].Invariant)
	assert.Contains(t, breaches[0].String(), `invariant 3: bucket "blocks", key channel 1, boot 1, 10800000000000 ns, serial 0: fails its checksum`)

	buckets, err := s.Chart("north/filter", noon, noon.Add(3*fullBlock*time.Second), 3*fullBlock)
	var d *DamageError
	require.ErrorAs(t, err, &d)
	assert.Equal(t, 1, buckets[0].N)
	assert.Equal(t, 0, buckets[fullBlock].N)
	buckets, err = s.Chart("north/filter", noon, noon.Add(3*fullBlock*time.Second), 100)
	require.NoError(t, err, "the minutes are sound")
	assert.Positive(t, buckets[50].N)
}

func TestDamagedRollUpsAreMadeAnew(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Append(seconds(boot, 0, 5000)))
	require.NoError(t, s.Seal())
	require.NoError(t, s.db.Update(func(tx *bolt.Tx) error {
		for i := range levels {
			b := tx.Bucket(levels[i].bucket)
			k := rollKey{1, boot, 0}.bytes()
			v := append([]byte(nil), b.Get(k)...)
			v[3] ^= 64
			if err := b.Put(k, v); err != nil {
				return err
			}
		}
		return nil
	}))
	breaches, err := s.Check()
	require.NoError(t, err)
	require.Len(t, breaches, 3, "one of each level: %v", breaches)
	require.NoError(t, s.Append(seconds(boot, 5000, 6000)))
	require.NoError(t, s.Seal())
	requireSound(t, s)
	assert.Len(t, s.Notices(), 3)
	buckets, err := s.Chart("north/filter", noon, noon.Add(100*time.Minute), 2)
	require.NoError(t, err)
	assert.Equal(t, 3000, buckets[1].N)
}

func TestDamagedFileIsSetAside(t *testing.T) {
	for name, spoil := range map[string]func(t *testing.T, path string){
		"both metas": func(t *testing.T, path string) {
			overwrite(t, path, 0, strings.Repeat("x", 2*pageSize))
		},
		"cut short": func(t *testing.T, path string) { require.NoError(t, os.Truncate(path, 3*pageSize)) },
		"stub":      func(t *testing.T, path string) { require.NoError(t, os.Truncate(path, 100)) },
		"all pages but the metas": func(t *testing.T, path string) {
			info, err := os.Stat(path)
			require.NoError(t, err)
			overwrite(t, path, 2*pageSize, strings.Repeat("\xff", int(info.Size())-2*pageSize))
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			s := open(t, dir, Options{})
			require.NoError(t, s.Append(seconds(newBoot(t, s, noon), 0, 5000)))
			require.NoError(t, s.Close())
			spoil(t, s.Path())

			s = open(t, dir, Options{})
			notices := s.Notices()
			require.Len(t, notices, 1)
			aside := s.Path() + ".damaged-" + time.Now().UTC().Format(time.DateOnly)
			assert.Equal(t, aside, notices[0].SetAside)
			assert.Contains(t, notices[0].Text, "it was set aside as "+aside+" and a new store was begun")
			assert.FileExists(t, notices[0].SetAside)
			require.NoError(t, s.Append(seconds(newBoot(t, s, noon), 0, 10)))
			require.NoError(t, s.Commit())
			requireSound(t, s)
		})
	}
}

func overwrite(t *testing.T, path string, at int64, text string) {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteAt([]byte(text), at)
	require.NoError(t, err)
	require.NoError(t, f.Close())
}

func TestNewerOrForeignFileIsRefusedUntouched(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	require.NoError(t, s.db.Update(func(tx *bolt.Tx) error { return tx.Bucket(bucketMeta).Put([]byte("format"), []byte{format + 1}) }))
	require.NoError(t, s.Close())
	before, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	_, err = Open(dir, Options{})
	require.ErrorIs(t, err, ErrNewer)
	assert.ErrorContains(t, err, "it is of format 2 and this program knows up to 1; use the newer program")
	after, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	assert.Equal(t, before, after)

	foreign := t.TempDir()
	db, err := bolt.Open(filepath.Join(foreign, FileName), 0o644, nil)
	require.NoError(t, err)
	require.NoError(t, db.Update(func(tx *bolt.Tx) error { _, err := tx.CreateBucket([]byte("coffee")); return err }))
	require.NoError(t, db.Close())
	_, err = Open(foreign, Options{})
	assert.ErrorContains(t, err, `is not a ductward store: it holds "coffee"; choose another data folder`)
}

// A double is a reading whose time is that of another too: a source that numbers anew loses nothing.
func TestOneSequenceAtTwoTimesIsNoDouble(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, 1, 11)[:20]
	again := seconds(boot, 11, 21)
	for i := range again {
		again[i].Seq = want[i].Seq
	}
	require.NoError(t, s.Append(want))
	require.NoError(t, s.Commit())
	require.NoError(t, s.Append(again))
	want = append(want, again...)
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	require.NoError(t, s.Append(want), "sent again")
	assert.EqualValues(t, len(want), s.Doubles())
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	require.NoError(t, s.Seal())
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
	requireSound(t, s)
}

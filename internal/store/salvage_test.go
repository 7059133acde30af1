package store

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"ductward/internal/journal"
	"ductward/internal/reading"
)

// richStore closes a store with pages of every kind: many blocks, roll-ups, runs, a journal of several pages, and pieces.
func richStore(t *testing.T, dir string) []reading.Reading {
	t.Helper()
	return richStoreOf(t, dir, 25_000)
}

// richStoreOf is richStore with blocks of so many seconds.
func richStoreOf(t *testing.T, dir string, n int) []reading.Reading {
	t.Helper()
	s := open(t, dir, Options{})
	goldenInto(t, s)
	boot := newBoot(t, s, noon.AddDate(0, 0, 1))
	require.NoError(t, s.Append(seconds(boot, 0, n)))
	require.NoError(t, s.Seal())
	for i := range 100 {
		_, err := s.AddJournal(journal.Entry{Time: noon, Kind: journal.Other, Note: strings.Repeat(fmt.Sprint(i, " "), 50)})
		require.NoError(t, err)
	}
	for i := range 20 {
		require.NoError(t, s.Append(seconds(boot, n+5*i, n+5*i+5)))
		require.NoError(t, s.Commit())
	}
	requireSound(t, s)
	rs := all(t, s, ReadQuery{})
	require.NoError(t, s.Close())
	return rs
}

// pagesOf lists the pages that the tree of a bucket uses, by kind.
func pagesOf(t *testing.T, b []byte, bucket []byte) (branches, leaves []uint64) {
	t.Helper()
	m, err := readMeta(bytes.NewReader(b))
	require.NoError(t, err)
	var down func(id uint64)
	down = func(id uint64) {
		p := b[id*pageSize:]
		flags := native.Uint16(p[8:])
		if flags == flagLeaf {
			leaves = append(leaves, id)
			return
		}
		branches = append(branches, id)
		for i := range int(native.Uint16(p[10:])) {
			e, ok := readElement(p, flags, i)
			require.True(t, ok)
			down(e.page)
		}
	}
	down(m.root)
	lists := leaves
	branches, leaves = nil, nil
	for _, id := range lists {
		p := b[id*pageSize:]
		for i := range int(native.Uint16(p[10:])) {
			e, ok := readElement(p, flagLeaf, i)
			require.True(t, ok)
			if bytes.Equal(e.key, bucket) {
				if id := native.Uint64(e.value); id != 0 {
					down(id)
				}
			}
		}
	}
	return branches, leaves
}

// opened opens what is at path and repairs it if reading it through meets damage. It returns the store, what it was told
// and the readings.
func opened(t *testing.T, dir string) (*Store, []Notice, []reading.Reading) {
	t.Helper()
	s := open(t, dir, Options{})
	_, err := s.Check()
	_ = err // a page that makes no sense is an error, and is remembered
	if s.Damage() != nil {
		_, err := s.Repair(s.Damage())
		require.NoError(t, err)
		assert.NoError(t, s.Damage())
	}
	breaches, err := s.Check()
	require.NoError(t, err)
	require.Empty(t, breaches)
	return s, s.Notices(), all(t, s, ReadQuery{})
}

// A branch that is destroyed costs nothing: the leaves that it led to are found.
func TestSalvageBehindADamagedBranch(t *testing.T) {
	dir := t.TempDir()
	want := richStore(t, dir)
	path := filepath.Join(dir, FileName)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	branches, _ := pagesOf(t, b, bucketBlocks)
	require.NotEmpty(t, branches)
	copy(b[branches[0]*pageSize:], bytes.Repeat([]byte("coffee"), 600))
	require.NoError(t, os.WriteFile(path, b, 0o644))

	s, told, got := opened(t, dir)
	require.Len(t, told, 1)
	assert.Contains(t, told[0].Text, "a new store was begun with what could be salvaged, which is ")
	requireSame(t, want, got, time.Time{})
	kept, err := os.ReadFile(told[0].SetAside)
	require.NoError(t, err)
	assert.Equal(t, b, kept, "the damaged file is kept to the byte")
	js, err := s.Journal()
	require.NoError(t, err)
	assert.Len(t, js, 101)
	_, err = s.AddJournal(goldenEntry)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	s, told, got = opened(t, dir)
	assert.Empty(t, told, "it is told once")
	assert.Len(t, got, len(want))
	requireSound(t, s)
}

// A leaf that is destroyed costs what was on it. It is met while the store is in use, which goes on with a new file and
// everything that is in memory.
func TestRepairWhileInUse(t *testing.T) {
	for _, bucket := range [][]byte{bucketBlocks, bucketJournal, levels[0].bucket, bucketOpen} {
		t.Run(string(bucket), func(t *testing.T) {
			dir := t.TempDir()
			want := richStore(t, dir)
			path := filepath.Join(dir, FileName)
			b, err := os.ReadFile(path)
			require.NoError(t, err)
			_, leaves := pagesOf(t, b, bucket)
			require.NotEmpty(t, leaves)
			spoilt := leaves[len(leaves)/2]

			s := open(t, dir, Options{})
			rs := seconds(2, 25_100, 25_200)
			for i := range rs {
				rs[i].Boot = want[len(want)-1].Boot
			}
			require.NoError(t, s.Append(rs)) // in memory alone
			overwrite(t, path, int64(spoilt)*pageSize+8, "\xff\xff\xff\xff")
			_, err = s.Check()
			require.NoError(t, err)
			require.Error(t, s.Damage())
			told, err := s.Repair(s.Damage())
			require.NoError(t, err)
			assert.NoError(t, s.Damage())
			assert.Equal(t, []Notice{told}, s.Notices())
			assert.FileExists(t, told.SetAside)
			requireSound(t, s)

			got := all(t, s, ReadQuery{})
			requireAmong(t, setOf(append(want, rs...)), got)
			if bytes.Equal(bucket, bucketBlocks) {
				assert.Less(t, len(got), len(want))
				assert.Greater(t, len(got), len(want)/2)
			} else {
				assert.Len(t, got, len(want)+len(rs))
			}
			js, err := s.Journal()
			require.NoError(t, err)
			assert.Equal(t, bytes.Equal(bucket, bucketJournal), len(js) < 101)
			n, err := s.AddJournal(goldenEntry)
			require.NoError(t, err)
			assert.EqualValues(t, len(js)+1, n, "numbers have no gap")
			require.NoError(t, s.Close())
			s = open(t, dir, Options{})
			requireSound(t, s)
			assert.Len(t, all(t, s, ReadQuery{}), len(got))
		})
	}
}

// place is what tells a reading from every other one, and its value.
type place struct {
	channel   string
	boot      uint32
	mono      time.Duration
	seq, bits uint64
}

func placeOf(r *reading.Reading) place {
	return place{r.Channel, r.Boot, r.Mono, r.Seq, math.Float64bits(r.Value)}
}

func setOf(rs []reading.Reading) map[place]bool {
	known := make(map[place]bool, len(rs))
	for i := range rs {
		known[placeOf(&rs[i])] = true
	}
	return known
}

// requireAmong tests that nothing is invented.
func requireAmong(t *testing.T, known map[place]bool, got []reading.Reading) {
	t.Helper()
	for i := range got {
		if !known[placeOf(&got[i])] {
			require.Fail(t, "a reading that was never written", "%+v", got[i])
		}
	}
}

// Whatever a page is overwritten with, the store is there again afterwards, sound, with nothing in it that was not
// written, and with most of it: the dozen blocks of this record are lost one by one.
func TestSalvageFromAnyDamage(t *testing.T) {
	const seed = 20260306
	rng := rand.New(rand.NewPCG(seed, 1))
	whole := t.TempDir()
	want := richStoreOf(t, whole, 60_000) // so that a few pages are little of it
	sound, err := os.ReadFile(filepath.Join(whole, FileName))
	require.NoError(t, err)
	known := setOf(want)
	rounds, most, aside := 24, 0, 0
	if testing.Short() {
		rounds = 10
	}
	for range rounds {
		b := bytes.Clone(sound)
		for range 1 + rng.IntN(3) {
			at := 2*pageSize + rng.IntN(len(b)-2*pageSize)
			if rng.IntN(2) == 0 {
				at -= at % pageSize // where a page says what it is
			}
			for i := at; i < min(len(b), at+1<<rng.IntN(13)); i++ {
				b[i] = byte(rng.Uint32())
			}
		}
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), b, 0o644))
		s := open(t, dir, Options{})
		breaches, err := s.Check()
		if s.Damage() != nil {
			_, err = s.Repair(s.Damage())
			require.NoError(t, err)
			breaches, err = s.Check()
		}
		require.NoError(t, err)
		for _, x := range breaches { // values that are damaged on sound pages are named and stay
			require.Contains(t, []int{1, 2, 3, 5, 6, 7, 8, 9}, x.Invariant, x)
		}
		var got []reading.Reading
		for r, err := range s.Readings(t.Context(), ReadQuery{}) {
			if err == nil && !strings.HasPrefix(r.Channel, "salvaged/") { // what is not, is named
				got = append(got, r)
			}
		}
		requireAmong(t, known, got)
		if len(got) > len(want)*2/3 {
			most++
		}
		aside += len(s.Notices())
		require.NoError(t, s.Append(seconds(newBoot(t, s, noon), 900_000, 900_100)))
		require.NoError(t, s.Seal())
		require.NoError(t, s.Close())
	}
	t.Logf("seed %d: of %d damaged files %d kept more than two thirds of their readings; %d notices", seed, rounds, most, aside)
	assert.GreaterOrEqual(t, most, rounds*9/10)
}

// The marks of what may be lost excuse only the channel and boot that they are of.
func TestMayMiss(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	f := salvaged{}
	f.lose(bucketBlocks, blockKey{channel: 3, boot: 2, mono: 5}.bytes(), blockKey{channel: 4, boot: 1, mono: 1}.bytes(), nil)
	f.lose(bucketJournal, nil, nil, nil)
	f.lose(levels[1].bucket, rollKey{9, 9, 9}.bytes(), nil, nil)
	require.NoError(t, s.db.Update(f.markLost))
	require.NoError(t, s.db.View(func(tx *bolt.Tx) error {
		for _, at := range []owner{{3, 2}, {3, 7}, {4, 0}, {4, 1}, {9, 9}, {10, 1}} {
			assert.True(t, mayMiss(tx, at.channel, at.boot), "%+v", at)
		}
		for _, at := range []owner{{3, 1}, {4, 2}, {5, 1}, {9, 8}} {
			assert.False(t, mayMiss(tx, at.channel, at.boot), "%+v", at)
		}
		return nil
	}))
}

// A file of a newer format is not taken apart by a program that does not know it, however damaged; one of an older format
// is salvaged first and then migrated.
func TestSalvageOfOtherFormats(t *testing.T) {
	dir := t.TempDir()
	want := richStore(t, dir)
	path := filepath.Join(dir, FileName)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	branches, _ := pagesOf(t, b, bucketBlocks)
	require.NotEmpty(t, branches)
	copy(b[branches[0]*pageSize:], bytes.Repeat([]byte("coffee"), 600))
	require.NoError(t, os.WriteFile(path, b, 0o644))

	_, err = Open(dir, Options{formats: &formats{newest: format - 1}})
	require.ErrorIs(t, err, ErrNewer)
	require.ErrorContains(t, err, "the file is as it was")
	now, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, b, now)

	s := open(t, dir, Options{formats: laterFormats()})
	require.Len(t, s.Notices(), 2)
	assert.Contains(t, s.Notices()[0].Text, "is damaged")
	assert.Contains(t, s.Notices()[1].Text, "was migrated from format 1 to 3")
	assert.Len(t, all(t, s, ReadQuery{}), len(want))
	requireSound(t, s)
}

package store

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
)

// spoilt returns a file with some of its pages overwritten from a place within them on.
func spoilt(b []byte, from int, pages ...uint64) []byte {
	b = bytes.Clone(b)
	for _, id := range pages {
		page := b[id*pageSize : (id+1)*pageSize]
		copy(page[from:], bytes.Repeat([]byte("coffee"), pageSize/6))
	}
	return b
}

// listPages lists the pages of the list of buckets from id down.
func listPages(b []byte, id uint64) []uint64 {
	page := b[id*pageSize : (id+1)*pageSize]
	all := []uint64{id}
	if native.Uint16(page[8:]) == flagBranch {
		for i := range int(native.Uint16(page[10:])) {
			e, _ := readElement(page, flagBranch, i)
			all = append(all, listPages(b, e.page)...)
		}
	}
	return all
}

// The list of buckets, on which everything hangs, is written anew with every commit. Where it is destroyed, that costs
// what was written last: the state before is still there. Where that one is destroyed too, what has its place in its key
// is found by itself: readings with their boots, under the numbers of their channels, whose names are lost.
func TestSalvageBehindADamagedListOfBuckets(t *testing.T) {
	whole := t.TempDir()
	want := richStoreOf(t, whole, 2000)
	b, err := os.ReadFile(filepath.Join(whole, FileName))
	require.NoError(t, err)
	metas, err := readMetas(bytes.NewReader(b))
	require.NoError(t, err)
	require.Len(t, metas, 2)
	older, newest := listPages(b, metas[1].root), listPages(b, metas[0].root)
	written := slices.DeleteFunc(slices.Clone(newest), func(id uint64) bool { return slices.Contains(older, id) })
	require.NotEmpty(t, written)
	salvaged := func(b []byte) (s *Store, told string, got []reading.Reading) {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), b, 0o644))
		s, notices, got := opened(t, dir)
		require.Len(t, notices, 1)
		return s, notices[0].Text, got
	}
	for _, page := range written {
		for _, from := range []int{0, pageHead + 4} { // all of the page, and all of its elements
			s, told, got := salvaged(spoilt(b, from, page))
			assert.Contains(t, told, "; what was written last is missing (page ")
			const last = 10 // readings of the last commit
			requireSame(t, want[:len(want)-last], got, time.Time{})
			js, err := s.Journal()
			require.NoError(t, err)
			assert.Len(t, js, 101)
			assert.Len(t, s.Boots(), 3)
		}
	}

	_, told, got := salvaged(spoilt(b, 0, append(newest, older...)...))
	assert.Contains(t, told, "some may be missing (page ")
	require.Len(t, got, len(want))
	for i := range got {
		assert.Regexp(t, "^salvaged/channel [0-9]+$", got[i].Channel)
		require.Equal(t, fmt.Sprint(want[i].Boot, want[i].Mono, want[i].Seq, want[i].Value),
			fmt.Sprint(got[i].Boot, got[i].Mono, got[i].Seq, got[i].Value))
	}
}

// While the store is in use, nothing is missing even where the last commit was the one that sealed what was open: what is
// in the pieces of the state before is taken back into memory.
func TestRepairOfAListOfBucketsAfterASeal(t *testing.T) {
	for _, since := range []int{0, 5} { // readings that are in memory alone
		s := open(t, t.TempDir(), Options{})
		boot := newBoot(t, s, noon)
		want := seconds(boot, 0, 700)
		for from := 0; from < 700; from += 100 {
			require.NoError(t, s.Append(want[2*from:2*from+200]))
			require.NoError(t, s.Commit())
		}
		require.NoError(t, s.Seal())
		more := seconds(boot, 700, 700+since)
		require.NoError(t, s.Append(more))
		b, err := os.ReadFile(s.Path())
		require.NoError(t, err)
		m, err := readMeta(bytes.NewReader(b))
		require.NoError(t, err)
		overwrite(t, s.Path(), int64(m.root)*pageSize, strings.Repeat("coffee", pageSize/6))
		_, _ = s.Check() // which meets the damage
		require.Error(t, s.Damage())
		told, err := s.Repair(s.Damage())
		require.NoError(t, err)
		assert.Contains(t, told.Text, "what was written last is missing")
		requireSame(t, append(want, more...), all(t, s, ReadQuery{}), noon)
		assert.Zero(t, s.Doubles())
		requireSound(t, s)
		require.NoError(t, s.Seal())
		requireSound(t, s)
		requireSame(t, append(want, more...), all(t, s, ReadQuery{}), noon)
	}
}

package store

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

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
	want := richStore(t, whole)
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
			assert.Equal(t, fmt.Sprint(want[:len(want)-last]), fmt.Sprint(got))
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

package store

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A compaction that would fill the card does not begin, and says how much room it needs; one that fits does, and so does
// one on a card of which nobody knows.
func TestCompactionNeedsRoomOnTheCard(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	want := dump(t, s)
	space, err := s.Space()
	require.NoError(t, err)
	free, known, asked := space.Size-space.Free+roomBeside-1, true, ""
	s.room = func(dir string) (int64, bool) {
		asked = dir
		assert.NoFileExists(t, newName(s.path))
		return free, known
	}
	err = s.Compact(t.Context())
	require.ErrorContains(t, err, "compact: it needs 9 MB on the card beside the file that is there, and 8 MB are free: make room")
	require.ErrorContains(t, err, "set aside in "+filepath.Dir(s.path))
	assert.Equal(t, filepath.Dir(s.path), asked)
	assert.NoFileExists(t, newName(s.path))

	free++
	require.NoError(t, s.Compact(t.Context()))
	free, known = 0, false
	require.NoError(t, s.Compact(t.Context()))
	assert.Equal(t, want, dump(t, s))
	requireSound(t, s)
}

// What is free is asked of the file system that the folder is on.
func TestRoomOnTheCard(t *testing.T) {
	dir := t.TempDir()
	free, known := roomOn(dir)
	assert.True(t, known)
	assert.Positive(t, free)
	_, known = roomOn(filepath.Join(dir, "missing"))
	assert.False(t, known)
}

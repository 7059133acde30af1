package store

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWhoHoldsTheFolder(t *testing.T) {
	dir := t.TempDir()
	assert.NoError(t, Held(filepath.Join(dir, "nowhere")))
	assert.NoError(t, Held(dir))
	s, err := Open(dir, Options{})
	require.NoError(t, err)
	err = Held(dir)
	assert.ErrorIs(t, err, ErrInUse)
	assert.Contains(t, err.Error(), "(process ")
	require.NoError(t, s.Close())
	assert.NoError(t, Held(dir), "and it has not kept the lock itself")
	s, err = Open(dir, Options{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
}

package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// With retention, the file stops growing: the space of what was deleted is used again.
func TestFileDoesNotGrowForEver(t *testing.T) {
	s := open(t, t.TempDir(), Options{KeepRaw: 3 * day, KeepMinutes: 6 * day})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Bulk(true))
	w := newWorkload(1)
	var settled int64
	for d := range 40 {
		for second := 0; second < 86400; second += 30 {
			require.NoError(t, s.Append(w.at(boot, d*86400+second)))
		}
		require.NoError(t, s.Seal())
		_, err := s.Prune(noon.Add(time.Duration(d+1) * day))
		require.NoError(t, err)
		if d == 12 {
			settled, err = s.Size()
			require.NoError(t, err)
		}
	}
	grown, err := s.Size()
	require.NoError(t, err)
	assert.LessOrEqual(t, grown, settled+settled/4, "hours and days are kept, and take little")
	require.NoError(t, s.Bulk(false))
	requireSound(t, s)
}

// A reader that stops in the middle of a record holds no transaction: commits go on, and pages are used again.
func TestSlowReaderHoldsNothing(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	w := newWorkload(1)
	for second := range 3000 {
		require.NoError(t, s.Append(w.at(boot, second)))
	}
	require.NoError(t, s.Seal())
	read := 0
	for _, err := range s.Readings(t.Context(), ReadQuery{}) {
		require.NoError(t, err)
		if read++; read != 100 && read != 30_000 {
			continue
		}
		assert.Zero(t, s.db.Stats().OpenTxN, "while the caller works")
		before, err := s.Size()
		require.NoError(t, err)
		for n := range 300 {
			require.NoError(t, s.Append(w.at(boot, 3000+read+n)))
			require.NoError(t, s.Commit())
		}
		after, err := s.Size()
		require.NoError(t, err)
		assert.LessOrEqual(t, after, before+growth, "300 commits write six megabytes, over the same pages")
	}
	assert.GreaterOrEqual(t, read, 48_000)
}

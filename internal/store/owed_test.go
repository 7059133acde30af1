package store

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
)

// A boot that begins, or that is placed, while the card takes nothing has its number and its time at once, and they are
// written with whatever is written next.
func TestABootOnAFullCardIsPlaced(t *testing.T) {
	if !alone(t) {
		return
	}
	s := open(t, t.TempDir(), Options{})
	first := newBoot(t, s, noon)

	lift := limitFiles(t, 1)
	later := noon.Add(time.Hour)
	require.ErrorIs(t, s.PlaceBoot(first, later), ErrOwed)
	second, err := s.NewBoot()
	require.ErrorIs(t, err, ErrOwed)
	next := noon.Add(48 * time.Hour)
	require.ErrorIs(t, s.PlaceBoot(second, next.Add(time.Minute)), ErrOwed)
	require.ErrorIs(t, s.PlaceBoot(second, next), ErrOwed, "and again, as the clock was wrong")
	want := []Boot{{first, later}, {second, next}}
	assert.Equal(t, want, s.Boots())
	rs := seconds(second, 1, 10)
	require.NoError(t, s.Append(rs))
	require.Error(t, s.Commit())
	requireSame(t, rs, all(t, s, ReadQuery{From: next, To: next.Add(time.Hour)}), next)
	year := time.Date(1500, 1, 1, 0, 0, 0, 0, time.UTC)
	require.NotErrorIs(t, s.PlaceBoot(second, year), ErrOwed, "what can never be written is not owed")

	lift()
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other})
	require.NoError(t, err)
	assert.Empty(t, s.owed)
	b, err := os.ReadFile(s.Path()) // the power goes before the readings are committed
	require.NoError(t, err)
	s = openImage(t, b)
	assert.Equal(t, want, s.Boots())
	requireSound(t, s)
}

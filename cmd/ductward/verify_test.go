package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/outbox"
	"ductward/internal/store"
)

// logbookIn makes a store with these entries, and a weekly letter that took a head along.
func logbookIn(t *testing.T, entries []journal.Entry, head string) string {
	t.Helper()
	dir := t.TempDir()
	st, err := store.Open(dir, store.Options{})
	require.NoError(t, err)
	for _, e := range entries {
		_, err := st.AddJournal(e)
		require.NoError(t, err)
	}
	require.NoError(t, st.PutItems([]outbox.Item{{Number: 1, Target: "mail", State: outbox.Delivered,
		Letter: outbox.Letter{ID: "week", Kind: outbox.Digest, Head: head}}}))
	require.NoError(t, st.Close())
	return dir
}

func TestVerifyHoldsTheLogbookAgainstWhatWasSent(t *testing.T) {
	day := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	book := []journal.Entry{{Time: day, Kind: journal.FilterCleaned, By: "Ada"}, {Time: day, Kind: journal.Check, By: "Ben"}}
	sent := journal.Head(book).String()
	dir := logbookIn(t, append(book, journal.Entry{Time: day, Kind: journal.Other, By: "Ada"}), sent)
	got := call(t, "verify", "--data", dir)
	assert.Equal(t, exitFine, got.code, got.out)
	assert.Contains(t, got.out, "the logbook has 3 entries; the head of their chain is ")
	got = call(t, "verify", "--data", dir, "--head", sent)
	assert.Equal(t, exitFine, got.code, got.out)
	assert.Contains(t, got.out, "stands for the entries up to 2")

	book[0].By = "Eve"
	dir = logbookIn(t, book, sent)
	got = call(t, "verify", "--data", dir)
	assert.Equal(t, exitNotFine, got.code, "a letter knows better")
	assert.Contains(t, got.out, "does not hold the head "+sent)
	assert.Equal(t, exitUse, call(t, "verify", "--data", dir, "--head", "abc").code)
}

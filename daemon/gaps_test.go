package daemon

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/reading"
)

// gapsOf is a book over the small shop, whose trunk was last read an hour and a half before Monday.
func gapsOf() *gapBook {
	before := monday.Add(-90 * time.Minute)
	return newGapBook(smallShop(), map[string]reading.Reading{"main/trunk": {Channel: "main/trunk", Time: before},
		"main/filter drop": {Channel: "main/filter drop", Time: before.Add(time.Second)}, "gate/saw gate": {Time: before}})
}

func TestAGapIsOneLineOfTheLogbook(t *testing.T) {
	b := gapsOf()
	read := func(channel string, at time.Duration) {
		b.reading(&reading.Reading{Channel: channel, Boot: 2, Mono: at, Time: monday.Add(at)})
	}
	read("main/trunk", time.Second)
	read("main/filter drop", 2*time.Second)
	assert.Empty(t, b.take(time.Time{}), "the clock is not set: nobody knows how long it was")
	got := b.take(monday)
	require.Len(t, got, 1, "all sensors, one gap")
	e := got[0].entry()
	assert.Equal(t, journal.Entry{Time: monday.Add(time.Second), Kind: journal.Gap, By: "ductward",
		Note: "No reading of any sensor from 2026-03-16T05:30:00Z to 2026-03-16T07:00:01Z (1h30m0s): the daemon did not run."}, e)
	assert.Empty(t, b.take(monday), "told once")

	read("main/trunk", 2*time.Second+gapLeast/2) // too short
	read("gate/saw gate", 3*time.Hour)           // it speaks when it moves
	read("main/filter drop", 2*time.Second+gapLeast)
	got = b.take(monday)
	require.Len(t, got, 1)
	e = got[0].entry()
	assert.Equal(t, "main/filter drop", e.Subject)
	assert.Equal(t, "No reading of it from 2026-03-16T07:00:02Z to 2026-03-16T08:00:02Z (1h0m0s): no reading came.", e.Note)

	for _, channel := range []string{"main/trunk", "main/filter drop"} { // a bus that was away
		b.last[channel] = reading.Reading{Channel: channel, Mono: 4 * time.Hour}
		read(channel, 6*time.Hour)
	}
	got = b.take(monday)
	require.Len(t, got, 1)
	assert.Contains(t, got[0].entry().Note, "No reading of main/filter drop, main/trunk from")
}

// A zero that moved is entered once, and not again by a start that finds the same past.
func TestAZeroThatMovedIsEnteredOnce(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	r := start(t, cfg)
	f := r.d.open.fold
	now := cfg.Clock.Now()
	moved := finding.Finding{Kind: finding.SensorZero, Subject: "main/trunk", Priority: finding.Journal, Raised: now.Add(-time.Hour), Text: "It moved."}
	old, refused := moved, moved
	old.Raised = now.Add(-48 * time.Hour)
	refused.Priority = finding.Instrument
	for range 2 {
		f.enterZeros([]finding.Finding{old, moved, refused}, now)
	}
	require.NoError(t, r.end())
	entries, err := reopened(t, cfg.DataDir).Journal()
	require.NoError(t, err)
	var zeros []journal.Entry
	for _, e := range entries {
		if e.Kind == journal.ZeroMoved {
			zeros = append(zeros, e)
		}
	}
	require.Len(t, zeros, 1)
	assert.Equal(t, "It moved.", zeros[0].Note)
	assert.True(t, zeros[0].Kind.Own())
}

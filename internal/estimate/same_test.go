package estimate_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/plant"
)

// TestTheSameRunsGiveTheSameFindings, looked at on the way or not. The scene holds a leak, a blocked drop, a cleaning
// and a zero that moves.
func TestTheSameRunsGiveTheSameFindings(t *testing.T) {
	t.Parallel()
	sc := scene{seed: 501, days: 20, work: everyDay, faults: []plant.Fault{
		{Day: 9, At: 9 * time.Hour, Kind: plant.LeakEvent, Name: "run:trunk 5", Size: 60.0 / 3600},
		{Day: 13, At: 5 * time.Hour, Kind: plant.BlockEvent, Name: "bench saw", Size: 1.8},
		{Day: 15, At: 5 * time.Hour, Kind: plant.ZeroEvent, Name: "main/trunk static", Size: 8},
	}, entries: []journal.Entry{{Time: day(10), Kind: journal.FilterCleaned}}}
	looked := sc
	looked.peek = true
	lives := many(t, []scene{sc, looked})
	require.Greater(t, len(lives[0].watched.Findings), 3)
	require.NotEmpty(t, lives[0].leaks())
	for _, l := range lives[1:] {
		assert.Equal(t, lives[0].watched.Findings, l.watched.Findings)
		assert.Equal(t, lives[0].watched.NextTest, l.watched.NextTest)
		// by their words: a NaN is not equal to itself
		assert.Equal(t, written(lives[0].watched.Days), written(l.watched.Days))
		assert.Equal(t, lives[0].watched.Baseline, l.watched.Baseline)
	}
}

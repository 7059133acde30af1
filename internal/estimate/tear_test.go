//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// TestAHoleInTheMediumIsTold though the drop of ordinary work falls by few per cent: with every gate shut most of the little air takes
// the hole. What the gate-shut air is told by is the drop, and no mended leak and no faster fan are told. A whole filter ends it.
func TestAHoleInTheMediumIsTold(t *testing.T) {
	t.Parallel()
	const from, until, hole = 9, 15, 100.0 / 3600
	for set, seed := range map[string]uint64{"A": 41, "C": 42} {
		l := live(t, scene{seed: seed, days: until + 5, work: everyDay, shop: func() (*shop.Shop, error) { return trial.Shop(set, true) },
			faults:  []plant.Fault{{Day: from, At: 6 * time.Hour, Kind: plant.HoleEvent, Size: hole, Until: until}},
			entries: []journal.Entry{{Time: trial.Start.Add(until*24*time.Hour + 5*time.Hour), Kind: journal.FilterReplaced, Subject: "main"}}})
		told := l.of(finding.FilterLostResistance)
		require.NotEmpty(t, told, "set %s: %s", set, say(l.watched.Findings))
		f := told[0]
		assert.LessOrEqual(t, daysUntil(f.Raised)-from, 1, "set %s", set)
		assert.Equal(t, finding.ActToday, f.Priority)
		assert.Equal(t, "m3/s", f.SizeUnit)
		assert.InDelta(t, hole, f.Size, 0.2*hole, "set %s", set)
		assert.False(t, f.Active(), "set %s: %s", set, say(told))
		assert.Empty(t, l.of(finding.FanSlow), "set %s", set)
		assert.Empty(t, l.leaks(), "set %s: %s", set, say(l.leaks()))
		for _, d := range l.watched.Days[from+1:] {
			assert.Less(t, math.Abs(d.Leakage.V), 4/3600.0, "set %s, %s", set, d.Date)
		}
	}
}

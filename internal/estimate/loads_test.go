//go:build !race

package estimate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/plant"
)

// unhurried loads the filter in forty days, so that none is cleaned while a row looks at it.
func unhurried(o *plant.WorkOptions) { o.AllDays, o.LoadingDays = true, 40 }

// TestAFilterThatGetsDampIsNoLeak: its resistance doubles within two days, which says nothing of the ducts. What is read in the
// morning alone, as with every gate shut, is compared with the filter as it was in the morning.
func TestAFilterThatGetsDampIsNoLeak(t *testing.T) {
	t.Parallel()
	damp := trouble(plant.DustEvent, "", 20)
	damp[0].Until = rowDay + 3
	for i, l := range many(t, []scene{
		{seed: 1241, days: rowDay + 8, shop: fitted("A", true), work: unhurried, faults: damp},
		{seed: 1242, days: rowDay + 8, shop: fitted("B", true), work: unhurried, faults: damp},
	}) {
		t.Log(i, say(l.alarms()))
		assert.Empty(t, l.leaks(), "set %d", i)
		for _, d := range l.watched.Days[rowDay:] {
			assert.InDelta(t, 0, 3600*d.Leakage.V, 3.5, "m³/h on %s, set %d", d.Date, i)
		}
		last := l.watched.Days[len(l.watched.Days)-1]
		assert.InEpsilon(t, l.truth[len(l.truth)-1].ratio/l.baselineTruth(), last.FilterRatio.V, 0.03)
	}
}

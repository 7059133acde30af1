//go:build !race

package estimate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/shop"
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
		{seed: 1241, days: rowDay + 6, shop: fitted("A", true), work: unhurried, faults: damp},
		{seed: 1242, days: rowDay + 6, shop: fitted("B", true), work: unhurried, faults: damp},
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

// TestAFilterThatLoadsFast: past a full bin it loads five times as fast, and damp within a day or two as much as else in weeks.
// Both are told as that, damp first where the room's humidity speaks for it, and are over when a day is as usual again.
func TestAFilterThatLoadsFast(t *testing.T) {
	t.Parallel()
	humidity := func(c *shop.Collector) {
		c.Sensors = append(c.Sensors, &shop.Sensor{Name: "humidity", Measures: shop.RelativeHumidity})
	}
	dust := func(times float64) []plant.Fault {
		f := trouble(plant.DustEvent, "", times)
		f[0].Until = rowDay + 3
		return f
	}
	as := func(times float64, first, says string) func(*testing.T, string, *lived, finding.Finding) {
		return func(t *testing.T, what string, _ *lived, f finding.Finding) {
			assert.Equal(t, finding.Plan, f.Priority, what)
			assert.InDelta(t, math.Log(times), math.Log(f.Size), math.Log(2.2), what) // a day's dust has its own third
			assert.True(t, f.SizeLow < f.Size && f.Size < f.SizeHigh, what)
			assert.Contains(t, f.ConfusableWith[0], first, what)
			assert.Contains(t, f.Text, says, what)
			assert.InDelta(t, rowDay, daysUntil(f.Onset), 1, what)
			assert.InDelta(t, rowDay+4, daysUntil(f.Ended), 1, what)
		}
	}
	wet := append(dust(20), plant.Fault{Day: rowDay, Kind: plant.HumidEvent, Size: 0.4})
	told := finding.FilterLoadsFast
	tellRows(t, 1251, rowDay+6, []row{
		{trouble: "bin full, A", shop: fitted("A", true), faults: dust(5), work: unhurried, told: told, within: 2, also: as(5, "bin", "nobody reads")},
		{trouble: "bin full, B with humidity", shop: fitted("B", true, humidity), faults: dust(5), work: unhurried, told: told, within: 2,
			also: as(5, "bin", "makes no media damp")},
		{trouble: "damp, A", shop: fitted("A", true), faults: dust(20), work: unhurried, told: told, also: as(20, "bin", "nobody reads")},
		{trouble: "damp, D with humidity", shop: fitted("D", true, humidity), faults: wet, work: unhurried, told: told,
			also: as(20, "damp", "may be damp")},
	})
}

//go:build !race

package estimate_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// TestWhatLiesBehindTheTap: a blocked outlet and air that enters between filter and fan take from every pressure alike, with
// much air more than with little. Both are told as that group by the ducts' own pressures, and the filter is followed on; the
// fan's power parts them.
func TestWhatLiesBehindTheTap(t *testing.T) {
	t.Parallel()
	group := func(t *testing.T, what string, l *lived, f finding.Finding) {
		assert.Equal(t, "behind-tap", f.Where[0].Part, what)
		assert.Greater(t, f.Where[0].Probability, 0.9, what)
		assert.Contains(t, f.Where[0].Members, "clean-side", what)
		last := l.watched.Days[len(l.watched.Days)-1]
		assert.InEpsilon(t, l.truth[len(l.truth)-1].ratio/l.baselineTruth(), last.FilterRatio.V, 0.04, what)
	}
	alone := func(part string) func(*testing.T, string, *lived, finding.Finding) {
		return func(t *testing.T, what string, _ *lived, f finding.Finding) {
			assert.Equal(t, part, f.Where[0].Part, what)
			assert.Empty(t, f.Where[0].Members, what)
			assert.Greater(t, f.Where[0].Probability, 0.9, what)
		}
	}
	nest, draught := trouble(plant.RestrictEvent, "", 900), trouble(plant.LeakEvent, "clean-side", 120.0/3600)
	told := finding.RestrictionAfterTap
	tellRows(t, 1221, rowDay+5, []row{
		{trouble: "blocked outlet, A", shop: fitted("A", true), faults: nest, told: told, also: group},
		{trouble: "blocked outlet, B", shop: fitted("B", true), faults: nest, told: told, also: group},
		{trouble: "clean side, A", shop: fitted("A", true), faults: draught, told: told, also: group},
		{trouble: "clean side, D", shop: fitted("D", true), faults: draught, told: told, also: group},
		{trouble: "blocked outlet, A and the fan's meters", shop: fitted("A", true, power), faults: nest, told: told, also: alone("behind-tap")},
		{trouble: "clean side, A and the fan's meters", shop: fitted("A", true, power), faults: draught, told: told, also: alone("clean-side")},
	})
}

// power gives a shop's fan a power meter and a count of turns.
func power(c *shop.Collector) {
	c.Sensors = append(c.Sensors, &shop.Sensor{Name: "power", Measures: shop.FanPower}, &shop.Sensor{Name: "turns", Measures: shop.FanSpeed})
}

// TestARoomShortOfAir: on some days the doors are shut for a part of the morning, and the fan has its pressure back when one is
// opened. It is told once, as coming and going, nothing passes for a leak or a drop meanwhile, and it is over some days after.
func TestARoomShortOfAir(t *testing.T) {
	t.Parallel()
	door := trouble(plant.RestrictEvent, "", 900)
	door[0].At, door[0].Lasts, door[0].Until = 9*time.Hour+50*time.Minute, 100*time.Minute, rowDay+3
	comes := func(t *testing.T, what string, l *lived, f finding.Finding) {
		assert.Equal(t, "behind-tap", f.Where[0].Part, what)
		assert.Regexp(t, "on [23] days", f.Text, what) // of one day few runs may lie wholly within
		assert.Contains(t, f.Action, "Open a door", what)
		assert.Less(t, f.Size, 0.95, what)
		assert.InDelta(t, 9*60+50, f.Onset.Hour()*60+f.Onset.Minute(), 12, "minutes since midnight: %s", what)
		assert.InDelta(t, rowDay+1.5+5, daysUntil(f.Ended), 0.5, what)
		for _, d := range l.watched.Days[rowDay:] {
			assert.InDelta(t, 0, 3600*d.Leakage.V, 5, "m³/h on %s: %s", d.Date, what)
		}
	}
	told := finding.RestrictionAfterTap
	tellRows(t, 1231, rowDay+9, []row{
		{trouble: "doors shut, A", shop: fitted("A", true), faults: door, told: told, also: comes},
		{trouble: "doors shut, A and the fan's meters", shop: fitted("A", true, power), faults: door, told: told, also: comes},
	})
}

//go:build !race

package estimate_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// gatesLeftOut leaves of a shop no more than the sensors at the collector, the fan and the filter.
func gatesLeftOut(s *shop.Shop) {
	ductsLeftOut(s)
	c := s.Collectors[0]
	c.Gates, c.Selectors, c.Machines = nil, nil, nil
}

// TestLeakageWhereNothingTellsTheGates: two pressures tell which stretches had every gate shut, and what they let in; a leak is told by
// them on its day, and ends when it is mended. Healthy shops are told of none, and the intervals of the leakage and of the filter hold.
func TestLeakageWhereNothingTellsTheGates(t *testing.T) {
	t.Parallel()
	const mended = 22
	gone := leakAt("run:trunk 3", 60, func(f *plant.Fault) { f.Until = mended })
	fitted := func(set string, barometer bool) func() (*shop.Shop, error) {
		return func() (*shop.Shop, error) {
			s, err := trial.Shop(set, true)
			if err != nil || barometer {
				return s, err
			}
			c := s.Collectors[0]
			c.Sensors = c.Sensors[:len(c.Sensors)-1]
			return s, nil
		}
	}
	silent := func(r *reading.Reading) bool { return !strings.HasPrefix(r.Channel, "gate/") }
	ls := many(t, []scene{
		{seed: 671, days: 30, work: everyDay, told: gatesLeftOut, shop: fitted("A", true)},
		{seed: 672, days: 30, work: everyDay, told: gatesLeftOut, shop: fitted("A", false)},
		{seed: 673, days: 30, work: everyDay, told: gatesLeftOut, shop: fitted("B", true)},
		{seed: 674, days: 30, work: everyDay, shop: fitted("B", true), heard: silent},
		{seed: 675, days: 30, work: everyDay, told: gatesLeftOut, shop: fitted("A", false), faults: gone},
		{seed: 676, days: 30, work: everyDay, shop: fitted("A", true), heard: silent, faults: gone},
	})
	within := func(v, truth, se float64) int {
		if math.Abs(v-truth) <= detect.Quantile(0.9)*se {
			return 1
		}
		return 0
	}
	days, inside, filter := 0, 0, 0
	for _, l := range ls[:4] {
		assert.Empty(t, l.alarms(), "seed %d: %s", l.seed, say(l.alarms()))
		base := 1.0 // of the five days that the filter is told over
		for _, day := range l.truth[:5] {
			base *= math.Pow(day.ratio, 0.2)
		}
		for _, e := range l.watched.Days[6:] {
			require.False(t, math.IsNaN(e.Leakage.V), "seed %d, %s", l.seed, e.Date)
			so := l.on(e.Date)
			days++
			inside += within(e.Leakage.V, so.leak, e.Leakage.SE)
			filter += within(e.FilterRatio.V, so.ratio/base, e.FilterRatio.SE)
		}
	}
	t.Logf("of %d days, leakage of %d and filter of %d inside", days, inside, filter)
	assert.Greater(t, inside, days*4/5)
	assert.Greater(t, filter, days*4/5)
	for _, l := range ls[4:] {
		found := l.leaks()
		require.Len(t, found, 1, "seed %d: %s", l.seed, say(l.watched.Findings))
		f := found[0]
		t.Logf("seed %d: %s", l.seed, say(found))
		assert.Equal(t, finding.NewLeak, f.Kind)
		assert.InDelta(t, leakFrom, daysUntil(f.Raised), 1, "told: %s", say(found))
		assert.InDelta(t, 60, 3600*f.Size, 12, say(found))
		assert.Equal(t, "other", f.Where[0].Part, "nothing tells where")
		require.False(t, f.Active(), say(found))
		assert.InDelta(t, mended+2, daysUntil(f.Ended), 3, "ended: %s", say(found))
		assert.WithinDuration(t, f.Onset, f.Raised, 24*time.Hour)
	}
}

// TestSensorsWhereNothingTellsTheGates: one that reads next to nothing while a machine is at work and one that falls silent are told on
// their day, and pass for no leak.
func TestSensorsWhereNothingTellsTheGates(t *testing.T) {
	t.Parallel()
	of := func() (*shop.Shop, error) { return trial.Shop("A", true) }
	gone := func(r *reading.Reading) bool {
		return r.Channel != "main/filter drop" || r.Mono < metersFrom*24*time.Hour
	}
	ls := many(t, []scene{
		{seed: 681, days: metersFrom + 4, work: everyDay, told: gatesLeftOut, shop: of, heard: misread("main/filter drop", 0.02)},
		{seed: 682, days: metersFrom + 4, work: everyDay, told: gatesLeftOut, shop: of, heard: misread("main/trunk static", 0.02)},
		{seed: 683, days: metersFrom + 4, work: everyDay, told: gatesLeftOut, shop: of, heard: gone},
	})
	for i, want := range []struct {
		kinds   []finding.Kind
		channel string
	}{
		{[]finding.Kind{finding.SensorDisagrees, finding.SensorPlugged}, "main/filter drop"},
		{[]finding.Kind{finding.SensorDisagrees, finding.SensorPlugged}, "main/trunk static"},
		{[]finding.Kind{finding.SensorLost}, "main/filter drop"},
	} {
		told := ls[i].of(want.kinds...)
		require.NotEmpty(t, told, "seed %d: %s", ls[i].seed, say(ls[i].watched.Findings))
		for _, f := range told {
			assert.Equal(t, want.channel, f.Subject, say(told))
			assert.Equal(t, metersFrom, daysUntil(f.Raised), say(told))
		}
		assert.Empty(t, ls[i].leaks(), say(ls[i].watched.Findings))
	}
}

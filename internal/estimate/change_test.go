//go:build !race

package estimate_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// TestABlockedDropIsToldAsThatDrop, while nothing is said of a leak or of the fan.
func TestABlockedDropIsToldAsThatDrop(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i, c := range []struct {
		machine string
		factor  float64
	}{{"bench saw", 1.35}, {"surface planer", 1.5}, {"thicknesser", 2}, {"crosscut saw", 1.6}} {
		scenes = append(scenes, scene{seed: 301 + uint64(i), days: 20, work: everyDay, faults: []plant.Fault{
			{Day: 12, At: 5 * time.Hour, Kind: plant.BlockEvent, Name: c.machine, Size: c.factor}}})
	}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d %s %v: %s", l.seed, l.faults[0].Name, l.faults[0].Size, say(l.alarms()))
		assert.Empty(t, l.leaks(), "seed %d: %s", l.seed, say(l.leaks()))
		assert.Empty(t, l.of(finding.FanSlow, finding.SensorDisagrees, finding.FilterLostResistance), "seed %d", l.seed)
		found := l.of(finding.DropBlocked)
		if !assert.Len(t, found, 1, "seed %d: %s", l.seed, say(l.alarms())) {
			continue
		}
		f := found[0]
		assert.Equal(t, l.faults[0].Name, f.Subject)
		assert.LessOrEqual(t, daysUntil(f.Raised), 12+4, say(found))
		assert.InEpsilon(t, l.faults[0].Size, f.Size, 0.2, say(found))
		assert.InDelta(t, 12, daysUntil(f.Onset), 3, say(found))
		assert.Empty(t, f.Where[0].Members)
		assert.Equal(t, "blockage:"+l.faults[0].Name, f.Where[0].Part)
	}
}

// withBarometer returns the demo's shop with a barometer: without one, air that is 3 % thinner cannot be told from a fan
// that is 1.5 % slower.
func withBarometer() (*shop.Shop, error) {
	s, err := demoShop()
	if err == nil {
		s.Collectors[0].Sensors = append(s.Collectors[0].Sensors, &shop.Sensor{Name: "barometer", Measures: shop.BarometricPressure})
	}
	return s, err
}

// TestASlowFanIsTold within three days for a belt that slips by 1.5 %, and is no leak, no filter and no sensor.
func TestASlowFanIsTold(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(4) {
		scenes = append(scenes, scene{seed: 311 + i, days: 20, work: everyDay, shop: withBarometer, faults: []plant.Fault{
			{Day: 12, At: 5 * time.Hour, Kind: plant.SpeedEvent, Size: 0.985}}})
	}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.alarms()))
		assert.Empty(t, l.leaks(), "seed %d: %s", l.seed, say(l.leaks()))
		assert.Empty(t, l.of(finding.FilterLostResistance, finding.SensorDisagrees, finding.DropBlocked), "seed %d", l.seed)
		found := l.of(finding.FanSlow)
		if !assert.Len(t, found, 1, "seed %d: %s", l.seed, say(l.alarms())) {
			continue
		}
		assert.GreaterOrEqual(t, daysUntil(found[0].Raised), 12)
		assert.LessOrEqual(t, daysUntil(found[0].Raised), 12+3, say(found))
		assert.InDelta(t, 0.985, found[0].Size, 0.004, say(found))
		last := l.watched.Days[len(l.watched.Days)-1].FanRatio
		assert.InDelta(t, 0.985, last.V, 0.006, "fan's speed over its baseline's on the last day")
	}
}

// TestATearIsForToday, while a cleaning and a new filter that the logbook knows are not.
func TestATearIsForToday(t *testing.T) {
	t.Parallel()
	const torn = 14
	slow := func(o *plant.WorkOptions) { o.AllDays, o.LoadingDays = true, 40 } // no cleaning comes between
	tear := []plant.Fault{{Day: torn, At: 11 * time.Hour, Kind: plant.TearEvent, Size: 1.2}}
	scenes := []scene{
		{seed: 321, days: 22, work: slow, faults: tear},
		{seed: 322, days: 22, work: slow, faults: tear},
		{seed: 323, days: 22, work: slow, faults: tear, entries: replaced(torn)},
		{seed: 324, days: 26, work: everyDay},
	}
	for i, l := range many(t, scenes) {
		found := l.of(finding.FilterLostResistance)
		t.Logf("seed %d: %s", l.seed, say(l.watched.Findings))
		switch i {
		case 0, 1:
			if assert.Len(t, found, 1, "seed %d: %s", l.seed, say(l.watched.Findings)) {
				assert.Equal(t, finding.ActToday, found[0].Priority)
				assert.Equal(t, torn, daysUntil(found[0].Raised), say(found))
				assert.True(t, found[0].Active(), "it is still torn")
				assert.Contains(t, found[0].Action, "respirator")
			}
			assert.Empty(t, l.of(finding.FilterCleaned), "a tear is no cleaning: %s", say(l.watched.Findings))
			assert.Empty(t, l.leaks(), "nor a leak: %s", say(l.leaks()))
		default:
			assert.Empty(t, found, "seed %d: %s", l.seed, say(found))
			assert.Len(t, l.of(finding.FilterCleaned), 1, "seed %d: %s", l.seed, say(l.watched.Findings))
		}
	}
}

// replaced is the logbook's word for a new filter on a day.
func replaced(n int) []journal.Entry {
	return []journal.Entry{{Time: day(n).Add(10 * time.Hour), Kind: journal.FilterReplaced, By: "A. Fitter"}}
}

// TestWhatIsPutRightEndsItsFinding: a drop that is cleared, a trunk that is, and a fan that is as fast again end what was
// told of them on that day, and nothing is told of their going back.
func TestWhatIsPutRightEndsItsFinding(t *testing.T) {
	t.Parallel()
	const broken, right = 9, 15
	var scenes []scene
	kinds := []finding.Kind{finding.DropBlocked, finding.FanSlow, finding.TrunkBlocked}
	for i, f := range []plant.Fault{
		{Kind: plant.BlockEvent, Name: "bench saw", Size: 1.8},
		{Kind: plant.SpeedEvent, Size: 0.97},
		{Kind: plant.RunBlockEvent, Name: "trunk 8", Size: 8},
	} {
		f.Day, f.At, f.Until = broken, 5*time.Hour, right
		scenes = append(scenes, scene{seed: 341 + uint64(i), days: 20, work: everyDay, faults: []plant.Fault{f}})
	}
	for i, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.alarms()))
		found := l.of(kinds[i])
		require.Len(t, found, 1, "seed %d: %s", l.seed, say(l.alarms()))
		assert.InDelta(t, broken, daysUntil(found[0].Raised), 1, say(found))
		assert.InDelta(t, right, daysUntil(found[0].Ended), 1, say(found))
		assert.Len(t, l.alarms(), 1, "seed %d: nothing else: %s", l.seed, say(l.alarms()))
	}
}

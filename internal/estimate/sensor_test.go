//go:build !race

package estimate_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/trial"
	"ductward/internal/watch"
)

const moved = 12

// TestAZeroThatMovesIsTakenAndNoted: 8 Pa at the filter are noted for the journal, and no leak comes of them.
func TestAZeroThatMovesIsTakenAndNoted(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i, ch := range []string{"main/filter drop", "main/trunk static", "main/trunk velocity", "main/filter drop"} {
		scenes = append(scenes, scene{seed: 401 + uint64(i), days: 17, work: everyDay, faults: []plant.Fault{
			{Day: moved, At: 5 * time.Hour, Kind: plant.ZeroEvent, Name: ch, Size: 8}}})
	}
	scenes[3].heard = awake() // the check of the morning knows the old zero alone
	for _, l := range many(t, scenes) {
		t.Logf("seed %d %s: %s", l.seed, l.faults[0].Name, say(l.watched.Findings))
		assert.Empty(t, l.alarms(), "seed %d: %s", l.seed, say(l.alarms()))
		assert.Empty(t, l.leaks(), "seed %d: %s", l.seed, say(l.leaks()))
		found := l.of(finding.SensorZero)
		if assert.Len(t, found, 1, "seed %d: %s", l.seed, say(l.watched.Findings)) {
			assert.Equal(t, finding.Journal, found[0].Priority)
			assert.Equal(t, l.faults[0].Name, found[0].Subject)
			assert.Equal(t, moved, daysUntil(found[0].Raised), say(found))
		}
		last := l.watched.Days[len(l.watched.Days)-1].Leakage
		assert.InDelta(t, 0, 3600*last.V, 8, "m³/h of leakage that is none, ± %.2g", 3600*last.SE)
	}
}

// awake leaves out what is read of a day before its fan starts.
func awake() func(*reading.Reading) bool {
	day, begun := -1, false
	return func(r *reading.Reading) bool {
		if d := daysUntil(r.Time); d != day {
			day, begun = d, false
		}
		begun = begun || r.Channel == "main/fan" && r.Value == 1
		return begun || !strings.HasPrefix(r.Channel, "main/") || r.Channel == "main/fan"
	}
}

// TestAZeroThatJumpsIsRefusedAndTold: 60 Pa are a fault, not a zero; when it goes, so does the finding.
func TestAZeroThatJumpsIsRefusedAndTold(t *testing.T) {
	t.Parallel()
	const gone = 17
	scenes := []scene{{seed: 411, days: 21, work: everyDay, faults: []plant.Fault{
		{Day: moved, At: 16 * time.Hour, Kind: plant.ZeroEvent, Name: "main/trunk static", Size: 60, Until: gone}}},
		{seed: 412, days: 21, work: everyDay, faults: []plant.Fault{
			{Day: moved, At: 16 * time.Hour, Kind: plant.ZeroEvent, Name: "main/filter drop", Size: 60, Until: gone}}}}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.watched.Findings))
		found := l.of(finding.SensorZero)
		require.NotEmpty(t, found, say(l.watched.Findings))
		f := found[0]
		assert.Equal(t, finding.Instrument, f.Priority)
		assert.Equal(t, l.faults[0].Name, f.Subject)
		assert.InDelta(t, moved+1, daysUntil(f.Raised), 1, say(found))
		assert.InDelta(t, gone, daysUntil(f.Ended), 1, say(found))
		assert.InDelta(t, 60, f.Size, 12, "Pa: the jump, beside its own small zero")
		assert.Len(t, l.alarms(), 1, "one cause, one alarm: %s", say(l.alarms()))
	}
}

// TestAPluggedTapIsToldAndLeftOut, and comes back when it has been blown free.
func TestAPluggedTapIsToldAndLeftOut(t *testing.T) {
	t.Parallel()
	const free = 18
	var scenes []scene
	for i, ch := range []string{"main/trunk static", "main/trunk velocity", "main/filter drop"} {
		scenes = append(scenes, scene{seed: 421 + uint64(i), days: 21, work: everyDay, faults: []plant.Fault{
			{Day: moved, At: 5 * time.Hour, Kind: plant.PlugEvent, Name: ch, Size: 1, Until: free}}})
	}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d %s: %s", l.seed, l.faults[0].Name, say(l.watched.Findings))
		found := l.of(finding.SensorPlugged)
		if assert.Len(t, found, 1, "seed %d: %s", l.seed, say(l.watched.Findings)) {
			f := found[0]
			assert.Equal(t, finding.Instrument, f.Priority)
			assert.Equal(t, l.faults[0].Name, f.Subject)
			assert.Equal(t, moved, daysUntil(f.Raised), "told on the same day: %s", say(found))
			assert.Equal(t, free, daysUntil(f.Ended), "and free again: %s", say(found))
		}
		assert.Empty(t, l.leaks(), "seed %d: %s", l.seed, say(l.leaks()))
	}
}

// TestASilentSensorIsToldOnce, and over when it answers again.
func TestASilentSensorIsToldOnce(t *testing.T) {
	t.Parallel()
	at := trial.Start.Add(50 * time.Hour)
	l := live(t, scene{seed: 431, days: 6, work: everyDay, hook: func(d int, w *watch.Watch) {
		switch d {
		case 2:
			w.Fault("main/trunk velocity", "not-answering", "no answer on the bus", at)
			w.Fault("main/trunk velocity", "not-answering", "still no answer on the bus", at.Add(time.Hour))
			w.Fault("main/filter drop", "stuck", "the same number 600 times", at)
		case 4:
			w.FaultCleared("main/trunk velocity", at.Add(48*time.Hour))
		}
	}})
	lost, stuck := l.of(finding.SensorLost), l.of(finding.SensorStuck)
	require.Len(t, lost, 1)
	require.Len(t, stuck, 1)
	assert.Equal(t, finding.Instrument, lost[0].Priority)
	assert.Equal(t, "main/trunk velocity", lost[0].Subject)
	assert.Contains(t, lost[0].Text, "still no answer on the bus", "as it was told last")
	assert.Equal(t, at, lost[0].Raised)
	assert.Equal(t, at.Add(48*time.Hour), lost[0].Ended)
	assert.True(t, stuck[0].Active())
	assert.Contains(t, stuck[0].Text, "the same number 600 times")
}

// TestAThermometerThatFallsSilentIsTold within its day, though it is read seldom, and no day without it is told otherwise than it was.
func TestAThermometerThatFallsSilentIsTold(t *testing.T) {
	t.Parallel()
	const from, until = 8, 12
	l := live(t, scene{seed: 432, days: until + 2, work: everyDay, shop: func() (*shop.Shop, error) { return trial.Shop("B", true) },
		heard: func(r *reading.Reading) bool {
			day := int(r.Mono / (24 * time.Hour))
			return r.Channel != "main/air" || day < from || day >= until
		}})
	lost := l.of(finding.SensorLost)
	require.Len(t, lost, 1, say(l.alarms()))
	assert.Equal(t, "main/air", lost[0].Subject)
	assert.Equal(t, from, daysUntil(lost[0].Raised))
	assert.Equal(t, until, daysUntil(lost[0].Ended))
	assert.Len(t, l.alarms(), 1, say(l.alarms()))
}

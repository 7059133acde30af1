//go:build !race

package estimate_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/plant"
)

// The leaks of these tests begin when the baseline is complete and some days have been lived against it. The shop works
// on all days.
const leakFrom = 12

func leakAt(part string, m3h float64, more func(*plant.Fault)) []plant.Fault {
	f := plant.Fault{Day: leakFrom, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: part, Size: m3h / 3600}
	if more != nil {
		more(&f)
	}
	return []plant.Fault{f}
}

// TestAWornSeatIsAGateThatLeaks: it vanishes whenever the gate is open, and nothing else does.
func TestAWornSeatIsAGateThatLeaks(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i, gate := range []string{"moulder gate", "bench saw gate", "planer gate", "sander gate"} {
		scenes = append(scenes, scene{seed: 201 + uint64(i), days: 18, work: everyDay, faults: leakAt("seat:"+gate, 60, nil)})
	}
	right := 0
	for _, l := range many(t, scenes) {
		found := l.leaks()
		require.NotEmpty(t, found, "seed %d: %s", l.seed, say(l.watched.Findings))
		t.Logf("seed %d, %s: %s\nwhere %v", l.seed, l.faults[0].Name, say(found), found[0].Where)
		assert.InDelta(t, leakFrom, daysUntil(found[0].Raised), 3, "told within days: %s", say(found))
		if found[0].Kind == finding.GateLeaks && "seat:"+found[0].Subject == l.faults[0].Name {
			right++
		}
	}
	assert.GreaterOrEqual(t, right, len(scenes)-1, "named as that gate, of %d", len(scenes))
}

// TestASeamIsNoGate: a step in the trunk is a new leak, not a gate that leaks, and its onset is its first day.
func TestASeamIsNoGate(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i, run := range []string{"run:trunk 2", "run:trunk 5", "run:trunk 8", "run:trunk 10"} {
		scenes = append(scenes, scene{seed: 211 + uint64(i), days: 20, work: everyDay, faults: leakAt(run, 80, nil)})
	}
	for _, l := range many(t, scenes) {
		found := l.leaks()
		require.NotEmpty(t, found, "seed %d: %s", l.seed, say(l.watched.Findings))
		f := found[0]
		t.Logf("seed %d, %s: %s\nwhere %v", l.seed, l.faults[0].Name, say(found), f.Where)
		assert.Equal(t, finding.NewLeak, f.Kind, say(found))
		assert.InDelta(t, leakFrom, daysUntil(f.Raised), 1, "told on its first day, or taken for one that was not: %s", say(found))
		assert.InDelta(t, leakFrom, daysUntil(f.Onset), 1, "since when: %s", say(found))
		assert.True(t, f.Active(), "it is still there")
		assert.Len(t, found, 1, "one cause, one finding: %s", say(found))
		next := l.watched.NextTest
		if f.Where[0].Probability > 0.9 && f.Where[0].Members == nil {
			assert.Nil(t, next, "it is known where")
			continue
		}
		require.NotNil(t, next, "nobody knows which seam: %s", say(found))
		assert.Equal(t, f.ID, next.Finding)
		assert.Equal(t, f.Where, next.Suspects)
		t.Logf("%.2f bits to tell; tests %+v; %s", next.Entropy, next.Tests, next.Reason)
		for _, p := range next.Tests {
			assert.True(t, p.Gain > 0 && p.Gain <= next.Entropy && p.Likeliest <= 1, "%+v", p)
			assert.NotRegexp(t, broken, p.Reason)
		}
	}
}

// TestAGrowingLeakIsToldAsOne, with its size as it is now and not as it was when it was found.
func TestAGrowingLeakIsToldAsOne(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i, run := range []string{"run:trunk 3", "run:trunk 9"} {
		scenes = append(scenes, scene{seed: 221 + uint64(i), days: 32, work: everyDay,
			faults: leakAt(run, 2, func(f *plant.Fault) { f.PerDay = 2.5 / 3600 })})
	}
	for _, l := range many(t, scenes) {
		found := l.leaks()
		require.NotEmpty(t, found, "seed %d: %s", l.seed, say(l.watched.Findings))
		f := found[0]
		t.Logf("seed %d, truth %.4g: %s", l.seed, l.truth[len(l.truth)-1].leak, say(found))
		assert.Equal(t, finding.GrowingLeak, f.Kind, say(found))
		assert.InEpsilon(t, l.truth[len(l.truth)-1].leak, f.Size, 0.25, say(found))
		assert.InDelta(t, leakFrom, daysUntil(f.Onset), 5, say(found))
	}
}

// TestASealedLeakEndsItsFinding, on the day on which it was sealed or the next.
func TestASealedLeakEndsItsFinding(t *testing.T) {
	t.Parallel()
	const mended = 20
	var scenes []scene
	for i, part := range []string{"run:trunk 4", "drop:crosscut gate", "run:trunk 9"} {
		scenes = append(scenes, scene{seed: 231 + uint64(i), days: 28, work: everyDay,
			faults: leakAt(part, 70, func(f *plant.Fault) { f.Until = mended })})
	}
	for _, l := range many(t, scenes) {
		found := l.leaks()
		require.NotEmpty(t, found, "seed %d: %s", l.seed, say(l.watched.Findings))
		t.Logf("seed %d: %s", l.seed, say(l.of(finding.NewLeak, finding.GrowingLeak, finding.GateLeaks, finding.LeakMended)))
		for _, f := range found {
			assert.False(t, f.Active(), "seed %d: %s", l.seed, say(found))
		}
		assert.InDelta(t, mended, daysUntil(found[0].Ended), 1, "seed %d: %s", l.seed, say(found))
		note := l.of(finding.LeakMended)
		require.Len(t, note, 1, "seed %d: %s", l.seed, say(l.watched.Findings))
		assert.Equal(t, finding.Journal, note[0].Priority)
		assert.InEpsilon(t, 70.0/3600, note[0].Size, 0.2, say(note))
		last := l.watched.Days[len(l.watched.Days)-1].Leakage
		assert.InDelta(t, 0, last.V, 3*last.SE, "what is left, m³/s")
	}
}

// TestWithoutClosedChecks: where the fan never runs with all gates shut, a healthy shop is left in peace, and a leak of
// 100 m³/h at 1500 Pa, a twenty-fifth of the flow, is found within ten days all the same.
func TestWithoutClosedChecks(t *testing.T) {
	t.Parallel()
	never := func(o *plant.WorkOptions) { o.Closed, o.AllDays = plant.NeverClosed, true }
	var scenes []scene
	for i := range 4 {
		scenes = append(scenes, scene{seed: 241 + uint64(i), days: 24, work: never})
	}
	for i, part := range []string{"run:trunk 2", "drop:mortiser gate", "run:trunk 7", "run:trunk 10"} {
		scenes = append(scenes, scene{seed: 251 + uint64(i), days: 24, work: never, faults: leakAt(part, 100, nil)})
	}
	for _, l := range many(t, scenes) {
		for _, d := range l.watched.Days {
			assert.Zero(t, d.ClosedChecks)
		}
		if l.faults == nil {
			assert.Empty(t, l.alarms(), "seed %d: %s", l.seed, say(l.alarms()))
			continue
		}
		found := l.leaks()
		t.Logf("seed %d: %s", l.seed, say(found))
		if assert.NotEmpty(t, found, "seed %d: %s", l.seed, say(l.watched.Findings)) {
			assert.Less(t, daysUntil(found[0].Raised), leakFrom+10, "seed %d: %s", l.seed, say(found))
			assert.GreaterOrEqual(t, daysUntil(found[0].Raised), leakFrom, "seed %d: %s", l.seed, say(found))
		}
	}
}

//go:build !race

package estimate_test

import (
	"math"
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
)

// unnoted hides every n-th use of a gate: neither its opening nor its shutting is heard of. It returns how many it has hidden.
func unnoted(n int) (heard func(*reading.Reading) bool, count *int) {
	uses, hidden := 0, map[string]bool{}
	count = new(int)
	return func(r *reading.Reading) bool {
		if !strings.HasPrefix(r.Channel, "gate/") {
			return true
		}
		if r.Value == 1 {
			uses++
			hidden[r.Channel] = uses%n == 0
			if hidden[r.Channel] {
				*count++
			}
		}
		return !hidden[r.Channel]
	}, count
}

// TestUsesThatNobodyNotedDoNotSpoilABaseline: their runs read as with another gate open than told, with every gate told shut
// among them, and are left out. What is held against the baseline afterwards is as good as ever.
func TestUsesThatNobodyNotedDoNotSpoilABaseline(t *testing.T) {
	t.Parallel()
	for set, seed := range map[string]uint64{"A": 31, "C": 32} {
		heard, hidden := unnoted(17)
		l := live(t, scene{seed: seed, days: 14, shop: func() (*shop.Shop, error) { return trial.Shop(set, true) },
			work: func(o *plant.WorkOptions) { o.AllDays, o.Walk = true, true }, heard: heard})
		b := l.watched.Baseline
		require.True(t, b.Complete, "set %s", set)
		assert.Greater(t, b.LeftOut, 0, "set %s, %d uses hidden", set, *hidden)
		assert.Less(t, b.MisfitRMS, 0.05, "set %s", set)
		for _, f := range l.alarms() {
			assert.Equal(t, finding.GateLeftOpen, f.Kind, "set %s: %s", set, say(l.alarms()))
		}
		judged := 0
		for _, d := range l.watched.Days[6:] {
			if !math.IsNaN(d.Leakage.V) {
				judged++
				assert.Less(t, math.Abs(d.Leakage.V), 3.5*d.Leakage.SE, "set %s, %s: %.1f m³/h", set, d.Date, 3600*d.Leakage.V)
			}
		}
		assert.GreaterOrEqual(t, judged, 6, "set %s", set)
	}
}

// TestWhatIsAsToldStaysInTheBaseline, however much the hoods scatter and however otherwise the ducts are built.
func TestWhatIsAsToldStaysInTheBaseline(t *testing.T) {
	t.Parallel()
	for set, seed := range map[string]uint64{"A": 33, "D": 34} {
		l := live(t, scene{seed: seed, days: 7, shop: func() (*shop.Shop, error) { return trial.Shop(set, false) },
			work:  func(o *plant.WorkOptions) { o.AllDays = true },
			built: func(o *plant.Options) { o.HoodJitter, o.HoodStir, o.AsBuilt = 0.12, 0.06, 0.2 }})
		require.True(t, l.watched.Baseline.Complete, "set %s", set)
		assert.Zero(t, l.watched.Baseline.LeftOut, "set %s", set)
	}
}

// TestADayOfWhichNothingIsAsTold is no day of the baseline, and harms nothing: every gate is told shut all day, and none is.
func TestADayOfWhichNothingIsAsTold(t *testing.T) {
	t.Parallel()
	const wrong = 2
	l := live(t, scene{seed: 35, days: 9, shop: func() (*shop.Shop, error) { return trial.Shop("B", true) },
		work: func(o *plant.WorkOptions) { o.AllDays = true },
		heard: func(r *reading.Reading) bool {
			return !strings.HasPrefix(r.Channel, "gate/") || r.Value != 1 || int(r.Mono/(24*time.Hour)) != wrong
		}})
	require.True(t, l.watched.Baseline.Complete)
	assert.Greater(t, l.watched.Baseline.LeftOut, 5)
	assert.Less(t, l.watched.Baseline.MisfitRMS, 0.05)
	assert.Empty(t, l.alarms(), say(l.alarms()))
}

//go:build !race

package estimate_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// TestALargeLeakThatIsGone: a joint of the trunk that came apart lets in as much as a machine, for a week. Told as a leak, it is ended on
// the day that it is mended or the next, and on that day no gate is found shut for want of the air that it let in.
func TestALargeLeakThatIsGone(t *testing.T) {
	t.Parallel()
	const broken, right = 9, 15
	var scenes []scene
	for i, set := range []string{"A", "B", "B", "D"} {
		scenes = append(scenes, scene{seed: 1501 + uint64(i), days: right + 4, work: everyDay,
			shop:   func() (*shop.Shop, error) { return trial.Shop(set, true) },
			faults: []plant.Fault{{Day: broken, At: 5 * time.Hour, Until: right, Kind: plant.LeakEvent, Name: "run:trunk 4", Size: 800.0 / 3600}}})
	}
	for _, l := range many(t, scenes) {
		require.NotEmpty(t, l.leaks(), "seed %d: %s", l.seed, say(l.alarms()))
		for _, f := range l.alarms() {
			assert.Contains(t, []finding.Kind{finding.NewLeak, finding.GateLeaks, finding.GrowingLeak, finding.GateLeftOpen}, f.Kind, "seed %d: %s", l.seed, say(l.alarms()))
			assert.False(t, f.Active(), "seed %d: %s", l.seed, say(l.alarms()))
			assert.LessOrEqual(t, daysUntil(f.Ended), right+1, "seed %d: %s", l.seed, say(l.alarms()))
		}
		last := l.watched.Days[len(l.watched.Days)-1]
		assert.Less(t, 3600*last.Leakage.V, 3*3600*last.Leakage.SE, "seed %d", l.seed)
		assert.Less(t, 3600*last.Leakage.SE, 20.0, "seed %d", l.seed)
	}
}

//go:build !race

package estimate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// TestWhatIsNoneOfTheDucts: a tap that was moved reads all by one factor from a day on and is told as that sensor's; a filter
// that blinds leaves more of its dust behind at each cleaning, and that it no longer recovers is told. Nothing else is.
func TestWhatIsNoneOfTheDucts(t *testing.T) {
	t.Parallel()
	blinds := func(o *plant.WorkOptions) {
		o.AllDays, o.LoadingDays, o.CleanAt, o.Residue, o.Patience = true, 9, 3.0, 0.3, 0
	}
	of := func(set string) func() (*shop.Shop, error) {
		return func() (*shop.Shop, error) { return trial.Shop(set, true) }
	}
	for i, l := range many(t, []scene{
		{seed: 831, days: metersFrom + 2, work: everyDay, heard: misread("main/trunk velocity", 0.85), shop: of("B")},
		{seed: 832, days: 36, work: blinds, shop: of("A")},
	}) {
		require.Len(t, l.alarms(), 1, "seed %d: %s", l.seed, say(l.alarms()))
		f := l.alarms()[0]
		assert.True(t, f.Active(), say(l.alarms()))
		if i == 1 {
			assert.Equal(t, finding.FilterNotRecovering, f.Kind, say(l.alarms()))
			assert.Equal(t, finding.Plan, f.Priority)
			continue
		}
		assert.Equal(t, finding.SensorDisagrees, f.Kind, say(l.alarms()))
		assert.Equal(t, "main/trunk velocity", f.Subject)
		assert.Equal(t, metersFrom, daysUntil(f.Raised))
		assert.InDelta(t, 0.85, f.Size, 0.03, say(l.alarms()))
	}
}

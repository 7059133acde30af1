//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// TestAFirstCheckAfterABaselineWithoutOne is no new leak: how tight the ducts were built is hardly known until every gate is shut
// once. Six healthy plants have their first test of ten minutes after their baseline, on day 6. With only what is left open of
// fittings and wyes in such a set, the squares of their leakage over what is stated add up to 290.
func TestAFirstCheckAfterABaselineWithoutOne(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(6) {
		scenes = append(scenes, scene{seed: 991 + i, days: 10,
			work: func(o *plant.WorkOptions) {
				o.Start = o.Start.AddDate(0, 0, -2) // a Saturday: the baseline's five days hold no Friday
				o.AllDays, o.Closed, o.Test = true, plant.NeverClosed, 10*time.Minute
			},
			shop: func() (*shop.Shop, error) { return trial.Shop("A", true) }})
	}
	square := 0.0
	for _, l := range many(t, scenes) {
		assert.Empty(t, append(l.leaks(), l.of(finding.FanSlow, finding.TrunkBlocked)...), say(l.alarms()))
		d := l.watched.Days[6]
		if assert.Equal(t, 1, d.ClosedChecks, "seed %d, %s", l.seed, d.Date) {
			t.Logf("seed %d: %.1f ± %.1f m³/h", l.seed, 3600*d.Leakage.V, 3600*d.Leakage.SE)
			square += math.Pow(d.Leakage.V/d.Leakage.SE, 2)
		}
	}
	assert.Less(t, square, surelyMore)
}

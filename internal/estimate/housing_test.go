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

// TestWhatTheHousingLosesIsNoHole: the shop file gives a third of what the filter's housing loses. After a cleaning, through a filter of
// two thirds of the resistance, much air reads more than little, as it would past a hole in the medium; none is told.
func TestWhatTheHousingLosesIsNoHole(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(4) {
		scenes = append(scenes, scene{seed: 1401 + i, days: 45,
			work: func(o *plant.WorkOptions) { o.AllDays, o.Walk = true, true },
			shop: func() (*shop.Shop, error) {
				s, err := trial.Shop("D", true)
				if err == nil {
					s.Collectors[0].Filter.HousingLoss = 0.15 * s.Collectors[0].Filter.CleanDrop
				}
				return s, err
			},
			told: func(s *shop.Shop) { s.Collectors[0].Filter.HousingLoss /= 3 }})
	}
	z := 0.0
	n := 0.0
	for _, l := range many(t, scenes) {
		require.NotEmpty(t, l.cleaned, "seed %d", l.seed)
		assert.Empty(t, l.of(finding.FilterLostResistance), say(l.alarms()))
		assert.Empty(t, l.leaks(), say(l.alarms()))
		for _, d := range l.watched.Days[6:] {
			z += d.Leakage.V / d.Leakage.SE * d.Leakage.V / d.Leakage.SE
			n++
		}
	}
	t.Logf("%.0f days, mean square %.2f", n, z/n)
	assert.Less(t, z/n, 1.5)
}

//go:build !race

package estimate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/plant"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// TestWhatTheHousingLosesIsNoHole: the shop file gives a third of what the filter's housing loses. After a cleaning, through a filter of
// two thirds of the resistance, much air reads more than little, as it would past a hole in the medium; nothing is told of it.
func TestWhatTheHousingLosesIsNoHole(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(6) {
		scenes = append(scenes, scene{seed: 1401 + i, days: 40,
			work: func(o *plant.WorkOptions) { o.AllDays, o.Walk = true, true },
			shop: func() (*shop.Shop, error) {
				s, err := trial.Shop("D", true)
				if err == nil {
					s.Collectors[0].Filter.HousingLoss = housingOfDrop * s.Collectors[0].Filter.CleanDrop
				}
				return s, err
			},
			told: func(s *shop.Shop) { s.Collectors[0].Filter.HousingLoss /= 3 }})
	}
	for _, l := range many(t, scenes) {
		require.NotEmpty(t, l.cleaned, "seed %d", l.seed)
		assert.Empty(t, l.alarms(), say(l.alarms()))
	}
}

// housingOfDrop is the share of the clean filter's drop that its housing loses.
const housingOfDrop = 0.18

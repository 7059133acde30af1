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
	"ductward/internal/estimate"
	"ductward/internal/journal"
	"ductward/internal/shop"
)

// undrawn leaves of a shop two sensors, the fan's curve and the filter.
func undrawn(s *shop.Shop) {
	c := s.Collectors[0]
	c.Network, c.Gates, c.Selectors, c.Machines = nil, nil, nil, nil
	c.Sensors = c.Sensors[:2]
	c.Sensors[1].Run = "inlet"
}

// TestAShopWithoutADrawing still has its filter followed, by the fan's curve, and its cleanings noted.
func TestAShopWithoutADrawing(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(4) {
		scenes = append(scenes, scene{seed: 601 + i, days: 28, work: everyDay, told: undrawn})
	}
	days, inside, square := 0, 0, 0.0
	for _, l := range many(t, scenes) {
		assertCleanings(t, l, false)
		assert.Empty(t, l.alarms(), "seed %d: %s", l.seed, say(l.alarms()))
		base := l.baselineTruth()
		for _, e := range l.watched.Days[6:] {
			require.False(t, math.IsNaN(e.FilterRatio.V), e.Date)
			miss := e.FilterRatio.V/(l.on(e.Date).ratio/base) - 1
			days++
			square += miss * miss
			if math.Abs(miss) <= detect.Quantile(0.9)*e.FilterRatio.SE/e.FilterRatio.V {
				inside++
			}
			assert.Empty(t, e.Blockage)
			assert.Empty(t, e.Zones)
		}
	}
	t.Logf("%d of %d days inside, %.3f; error %.4f", inside, days, float64(inside)/float64(days), math.Sqrt(square/float64(days)))
	assert.Less(t, math.Sqrt(square/float64(days)), 0.10, "relative error of a day")
	assert.Greater(t, float64(inside)/float64(days), 0.7, "share of days inside")
}

// TestANewBaselineWithoutADrawing takes its own five days, and none of the old ones.
func TestANewBaselineWithoutADrawing(t *testing.T) {
	t.Parallel()
	l := live(t, scene{seed: 611, days: 20, work: everyDay, told: undrawn,
		entries: []journal.Entry{{Time: day(9).Add(18 * time.Hour), Kind: journal.Baseline}}})
	b := l.watched.Baseline
	require.True(t, b.Complete)
	assert.Equal(t, 2, b.Version)
	assert.Equal(t, 10, daysUntil(b.From))
	assert.Equal(t, 14, daysUntil(b.To))
	for d := 10; d < 14; d++ {
		assert.True(t, math.IsNaN(l.watched.Days[d].FilterRatio.V), "day %d", d)
	}
	last := l.watched.Days[19]
	assert.InEpsilon(t, l.truth[19].ratio/l.baselineTruth(), last.FilterRatio.V, 0.12)
}

// TestWhatAShopLacks is said, with what would tell it.
func TestWhatAShopLacks(t *testing.T) {
	for _, c := range []struct {
		name     string
		less     func(*shop.Shop)
		has, not []string
	}{
		{"the demo", func(*shop.Shop) {}, nil, []string{"drawing", "rating", "filter's loading"}},
		{"no drawing", undrawn, []string{"need a drawing", "the positions of the gates", "a temperature sensor"}, []string{"rating"}},
		{"no rating", func(s *shop.Shop) { s.Collectors[0].Rating = math.NaN() }, []string{"(rating)"}, nil},
		{"no filter sensor", func(s *shop.Shop) { s.Collectors[0].Sensors = s.Collectors[0].Sensors[1:] }, []string{"a sensor across the filter"}, nil},
		{"no static", func(s *shop.Shop) {
			s.Collectors[0].Sensors = append(s.Collectors[0].Sensors[:1:1], s.Collectors[0].Sensors[2:]...)
		}, []string{"trunk's static pressure"}, []string{"across the filter"}},
	} {
		s, err := demoShop()
		require.NoError(t, err)
		c.less(s)
		e, err := estimate.New(s, s.Collectors[0])
		require.NoError(t, err, c.name)
		all := strings.Join(e.Lacks(), "\n")
		for _, w := range c.has {
			assert.Contains(t, all, w, c.name)
		}
		for _, w := range c.not {
			assert.NotContains(t, all, w, c.name)
		}
	}
}

//go:build !race

package estimate_test

import (
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

// TestAFilterSensorThatReadsAnotherSpanIsNoSlowFan: from a day on the filter's drop or the trunk's static pressure is read a tenth
// too low or too high. It is told as that sensor's, by its size, and neither the fan nor the filter is blamed. The filter goes
// on being told by the span that it is read with, through the next cleaning.
func TestAFilterSensorThatReadsAnotherSpanIsNoSlowFan(t *testing.T) {
	t.Parallel()
	const from = 16
	for _, c := range []struct {
		set, channel string
		span         float64
		seed         uint64
	}{
		{"A", "main/filter drop", 0.9, 33}, {"C", "main/filter drop", 1.1, 32},
		{"A", "main/trunk static", 0.9, 32},
	} {
		l := live(t, scene{seed: c.seed, days: 20, shop: func() (*shop.Shop, error) { return trial.Shop(c.set, true) },
			work: func(o *plant.WorkOptions) { o.AllDays, o.Walk = true, true },
			heard: func(r *reading.Reading) bool {
				if r.Channel == c.channel && r.Mono >= from*24*time.Hour {
					r.Value *= c.span
				}
				return true
			}})
		found := l.of(finding.SensorDisagrees)
		require.Len(t, found, 1, "%+v: %s", c, say(l.watched.Findings))
		assert.Len(t, l.alarms(), 1, "%+v: %s", c, say(l.alarms()))
		assert.Equal(t, c.channel, found[0].Subject)
		assert.InDelta(t, c.span, found[0].Size, 0.035, "%+v: %s", c, say(found))
		assert.LessOrEqual(t, daysUntil(found[0].Raised), from+1, "%+v: %s", c, say(found))
		for _, d := range l.watched.Days[from : from+4] {
			assert.InEpsilon(t, l.on(d.Date).ratio/l.baselineTruth(), d.FilterRatio.V, 0.05, "%+v, %s", c, d.Date)
		}
	}
}

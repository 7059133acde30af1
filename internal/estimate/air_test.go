//go:build !race

package estimate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
)

// TestOtherAirIsNoFinding: a room 25 K warmer and a barometer lower by a twelfth leave a tenth less of most pressures. Where both
// are measured the filter is followed as ever; where neither is, nothing is made of a warmer room or a deep low, whatever
// else is read, and the filter is told less surely, since the air's viscosity passes for it.
func TestOtherAirIsNoFinding(t *testing.T) {
	t.Parallel()
	filter := func(least, most float64) func(*testing.T, string, *lived, finding.Finding) {
		return func(t *testing.T, what string, l *lived, _ finding.Finding) {
			assert.Empty(t, l.leaks(), what)
			for _, d := range l.watched.Days[rowDay:] {
				is := l.on(d.Date).ratio / l.baselineTruth()
				assert.InDelta(t, 1, d.FilterRatio.V/is, most, "%s, on %s", what, d.Date)
				assert.Greater(t, d.FilterRatio.SE/d.FilterRatio.V, least, "%s, on %s", what, d.Date)
				assert.Less(t, math.Abs(d.FilterRatio.V-is), 3*d.FilterRatio.SE, "%s, on %s", what, d.Date)
			}
		}
	}
	warm, thin := trouble(plant.WarmEvent, "", 25), trouble(plant.BarometerEvent, "", -8000)
	warmer, low := trouble(plant.WarmEvent, "", 12), trouble(plant.BarometerEvent, "", -4000)
	known, open := filter(0, 0.025), filter(0.015, 0.05)
	tellRows(t, 1261, rowDay+9, []row{
		{trouble: "25 K warmer, measured, A", shop: fitted("A", true), faults: warm, also: known},
		{trouble: "barometer lower by 8 %, measured, B", shop: fitted("B", true), faults: thin, also: known},
		{trouble: "12 K warmer, A", shop: fitted("A", false), faults: warmer, also: open},
		{trouble: "12 K warmer, D", shop: fitted("D", false), faults: warmer, also: open},
		{trouble: "12 K warmer, A and the fan's meters", shop: fitted("A", false, power), faults: warmer, also: open},
		{trouble: "a deep low, A and the fan's meters", shop: fitted("A", false, power), faults: low, also: open},
	})
}

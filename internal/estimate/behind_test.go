//go:build !race

package estimate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
)

// TestWhatLiesBehindTheTap: a blocked outlet and air that enters between filter and fan take from every pressure alike, with
// much air more than with little. Both are told as that group by the ducts' own pressures, and the filter is followed on.
func TestWhatLiesBehindTheTap(t *testing.T) {
	t.Parallel()
	group := func(t *testing.T, what string, l *lived, f finding.Finding) {
		assert.Equal(t, "behind-tap", f.Where[0].Part, what)
		assert.Greater(t, f.Where[0].Probability, 0.9, what)
		assert.Contains(t, f.Where[0].Members, "clean-side", what)
		last := l.watched.Days[len(l.watched.Days)-1]
		assert.InEpsilon(t, l.truth[len(l.truth)-1].ratio/l.baselineTruth(), last.FilterRatio.V, 0.04, what)
	}
	nest, draught := trouble(plant.RestrictEvent, "", 900), trouble(plant.LeakEvent, "clean-side", 120.0/3600)
	told := finding.RestrictionAfterTap
	tellRows(t, 1221, rowDay+8, []row{
		{trouble: "blocked outlet, A", shop: fitted("A", true), faults: nest, told: told, also: group},
		{trouble: "blocked outlet, B", shop: fitted("B", true), faults: nest, told: told, also: group},
		{trouble: "clean side, A", shop: fitted("A", true), faults: draught, told: told, also: group},
		{trouble: "clean side, D", shop: fitted("D", true), faults: draught, told: told, also: group},
	})
}

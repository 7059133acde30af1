package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/detect"
	"ductward/internal/finding"
)

// TestTooLittleAirHangsUnderWhatIsBehindIt: the model without a trouble tells whether a machine would have enough.
func TestTooLittleAirHangsUnderWhatIsBehindIt(t *testing.T) {
	const saw = "bench saw"
	for _, c := range []struct {
		name          string
		plug, loading float64 // log of the drop's loss over the baseline's; of the filter's resistance over the clean one
		needs         float64 // of what it gets in a sound shop
		under         string
	}{
		{"a plugged drop", 3, 1, 0.9, "plug"},
		{"a loaded filter", 0.02, 8, 0.9, "filter"},
		{"a plugged drop, behind which the filter is nothing", 3, 1.3, 0.9, "plug"},
		{"either would be enough to be short", 3, 8, 0.9, "plug"},
		{"it needs more than it ever got", 0.02, 1.1, 1.5, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			e, _ := suspecting(t, 4000)
			set := e.aloneSet(saw)
			sound, err := e.solveAt(set, 1)
			require.NoError(t, err)
			e.collector.Machine(saw).Needs = c.needs * machineFlow(sound, saw)
			change := suspect(t, e, map[string]float64{"blockage:" + saw: 1}, map[string]Value{"blockage:" + saw: {c.plug, 0.1}})
			change.profile, change.size, change.finding = detect.Step, c.plug, "plug"
			e.lastAt = at(0, 16)
			e.findings = []finding.Finding{{ID: "plug", Kind: finding.DropBlocked, Priority: finding.Plan}, {ID: "filter", Kind: finding.FilterDue, Priority: finding.Plan}}
			e.judgeAlone(saw, &shortAir{}, c.loading)
			f := e.standing(finding.AirShort, saw)
			require.NotNil(t, f, "it is short")
			assert.Equal(t, c.under, f.Under)

			e.findings[0].Ended, e.findings[1].Ended = e.lastAt, e.lastAt
			e.judgeAlone(saw, &shortAir{}, c.loading)
			assert.Empty(t, e.standing(finding.AirShort, saw).Under, "what has ended is behind nothing any more")
		})
	}
}

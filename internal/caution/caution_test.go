package caution

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
)

// Whatever is advised, the fan is locked out first and the local code comes last; a figure has a printed source.
func TestEveryAdviceHasItsCautions(t *testing.T) {
	for _, k := range []finding.Kind{finding.FilterDue, finding.FilterLostResistance, finding.NewLeak, finding.GateLeaks,
		finding.DropBlocked, finding.FanSlow, finding.RestrictionAfterTap, finding.AirShort, finding.SensorPlugged, "a kind of later"} {
		list := For(k)
		assert.Contains(t, list[:2], LockOut, k)
		assert.Equal(t, Authority, list[len(list)-1], k)
		for _, c := range append(list, Drilling, NoInstrument) {
			assert.NotEmpty(t, c.Source)
			if regexp.MustCompile(`[0-9]`).MatchString(c.Text) {
				assert.NotEqual(t, noSource, c.Source, c.Text)
			}
		}
	}
}

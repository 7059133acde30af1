package caution

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A figure has a printed source, and everything says where it comes from.
func TestFiguresHaveASource(t *testing.T) {
	for _, c := range []Caution{LockOut, DustBurns, Breathe, Bonded, Ladder, Electric, Drilling, Purge, AllGates, MachinesIdle, LockOutToOpen,
		FanRuns, RoomDust, Authority, NoInstrument} {
		assert.NotEmpty(t, c.Source)
		if regexp.MustCompile(`[0-9]`).MatchString(c.Text) {
			assert.NotEqual(t, noSource, c.Source, c.Text)
		}
	}
}

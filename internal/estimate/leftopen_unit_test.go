package estimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/steady"
)

// TestAGateThatNeverShutsIsOneFinding: told open in between, it is open again once it is told shut. The first time that ends what was
// told, as of a gate that somebody forgot; from the second time on the finding stands.
func TestAGateThatNeverShutsIsOneFinding(t *testing.T) {
	e := demo(t)
	e.cal = &calibration{}
	e.lastAt = time.Date(2026, 3, 12, 10, 0, 0, 0, time.UTC)
	used := func() { // a run in which it is told open; nothing was read, so that nothing else is made of it
		e.leftOpen(&observation{run: &steady.Run{Kind: steady.Running, At: e.lastAt, Open: []string{"planer gate"}}})
	}
	tell := func(id, gate string, ago time.Duration) *finding.Finding {
		e.findings = append(e.findings, finding.Finding{ID: id, Kind: finding.GateLeftOpen, Subject: gate, Raised: e.lastAt.Add(-ago)})
		return e.standingLeftOpen()
	}
	first := tell("1", "planer gate", 5*time.Hour)
	require.NotNil(t, first)
	used()
	assert.Nil(t, e.standingLeftOpen(), "it was forgotten, and is used")
	require.NotNil(t, tell("2", "planer gate", time.Hour))
	used()
	again := e.standingLeftOpen()
	require.NotNil(t, again, "it stands open whenever it is told shut")
	assert.Equal(t, "1", e.openBefore(again).ID)

	again.Ended = e.lastAt
	other := tell("3", "moulder gate", time.Hour)
	assert.Nil(t, e.openBefore(other), "another gate")
	e.lastAt = e.lastAt.Add((againDays + 1) * 24 * time.Hour)
	other.Subject = "planer gate"
	assert.Nil(t, e.openBefore(other), "that was long ago")
}

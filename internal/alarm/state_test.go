package alarm

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Every state meets every event: what the table does not name cannot happen.
func TestEveryStateAndEvent(t *testing.T) {
	const none = State("")
	events := []event{rise, fall, acknowledge, escalate, realarm}
	want := map[State][]State{
		Normal:                {ActiveUnacknowledged, none, none, none, none},
		ActiveUnacknowledged:  {none, ClearedUnacknowledged, ActiveAcknowledged, ActiveUnacknowledged, ActiveUnacknowledged},
		ActiveAcknowledged:    {none, Normal, none, ActiveUnacknowledged, ActiveUnacknowledged},
		ClearedUnacknowledged: {ActiveUnacknowledged, none, Normal, none, none},
	}
	assert.Len(t, transitions, len(want), "a state that this table does not know")
	for from, to := range want {
		for i, e := range events {
			got, ok := next(from, e)
			assert.Equal(t, to[i], got, "%q at event %d", from, e)
			assert.Equal(t, to[i] != none, ok, "%q at event %d", from, e)
		}
	}
}

package alarm

import "ductward/internal/finding"

// event is what can happen to an alarm.
type event int

const (
	rise        event = iota // the cause has held for the on-delay
	fall                     // the cause has been gone for the off-delay
	acknowledge              // a named person has seen it
	escalate                 // the cause now asks for more than was told
	realarm                  // it has stood for so long that it asks again
)

// transitions is the whole of the main state machine. What it does not name cannot happen. Whether an alarm is shelved,
// suppressed or out of service is told beside it (aside.go) and moves none of these states.
var transitions = map[State]map[event]State{
	Normal: {rise: ActiveUnacknowledged},
	ActiveUnacknowledged: {fall: ClearedUnacknowledged, acknowledge: ActiveAcknowledged,
		escalate: ActiveUnacknowledged, realarm: ActiveUnacknowledged},
	ActiveAcknowledged:    {fall: Normal, escalate: ActiveUnacknowledged, realarm: ActiveUnacknowledged},
	ClearedUnacknowledged: {rise: ActiveUnacknowledged, acknowledge: Normal},
}

// next returns the state that follows s at e, and whether there is one.
func next(s State, e event) (State, bool) {
	to, ok := transitions[s][e]
	return to, ok
}

// urgency orders the priorities; 0 raises no alarm.
func urgency(p finding.Priority) int {
	switch p {
	case finding.ActToday:
		return 3
	case finding.Plan:
		return 2
	case finding.Instrument:
		return 1
	default:
		return 0
	}
}

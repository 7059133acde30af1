package alarm

import "ductward/internal/finding"

// event is what can happen to an alarm.
type event int

const (
	rise        event = iota // the cause has held for the on-delay
	fall                     // the cause has been gone for the off-delay
	acknowledge              // a named person has seen it
	escalate                 // the cause now asks for more than was acknowledged
)

// transitions is the whole state machine. What it does not name cannot happen.
var transitions = map[State]map[event]State{
	Normal:                {rise: ActiveUnacknowledged},
	ActiveUnacknowledged:  {fall: ClearedUnacknowledged, acknowledge: ActiveAcknowledged},
	ActiveAcknowledged:    {fall: Normal, escalate: ActiveUnacknowledged},
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

package alarm

import (
	"time"

	"ductward/internal/finding"
)

// State is the state of one alarm, in the words of IEC 62682 and OPC 10000-9.
type State string

// The states.
const (
	ActiveUnacknowledged  State = "active, unacknowledged"
	ActiveAcknowledged    State = "active, acknowledged"
	ClearedUnacknowledged State = "cleared, unacknowledged"
	Normal                State = "cleared"
)

// Alarm is a finding that asks something of a person.
type Alarm struct {
	ID       string // of the finding that raised it
	Cause    string // "COLLECTOR/KIND/SUBJECT": there is never more than one standing alarm of one cause
	Priority finding.Priority
	State    State
	Text     string
	Action   string
	Raised   time.Time
	Cleared  time.Time // zero: not cleared
	Acked    time.Time // zero: not acknowledged
	AckedBy  string
}

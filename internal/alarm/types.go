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

// Alarm is a finding that asks something of a person. All times are civil.
type Alarm struct {
	ID       string           `json:"id"`      // of the finding that raised it
	Cause    string           `json:"cause"`   // "COLLECTOR/KIND/SUBJECT": there is never more than one standing alarm of one cause
	Finding  string           `json:"finding"` // ID of the finding that it speaks of now
	Priority finding.Priority `json:"priority"`
	State    State            `json:"state"`
	Text     string           `json:"text"`
	Action   string           `json:"action,omitempty"`
	Raised   time.Time        `json:"raised"`             // when it last became active
	Cleared  time.Time        `json:"cleared,omitzero"`   // zero: not cleared
	Acked    time.Time        `json:"acked,omitzero"`     // zero: not acknowledged
	AckedBy  string           `json:"acked_by,omitempty"` // who acknowledged it
	Times    int              `json:"times"`              // how often it has become active
}

// Active tells whether the cause still holds.
func (a *Alarm) Active() bool {
	return a.State == ActiveUnacknowledged || a.State == ActiveAcknowledged
}

// Standing tells whether the alarm still asks something of somebody: it is active, or nobody has seen it.
func (a *Alarm) Standing() bool { return a.State != Normal }

// Cause returns the cause under which a finding raises its alarm.
func Cause(f *finding.Finding) string {
	return f.Collector + "/" + string(f.Kind) + "/" + f.Subject
}

package alarm

import (
	"strings"
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

	Since      time.Time `json:"since,omitzero"`            // when the trouble began, as the finding tells it; zero: not known
	Confidence float64   `json:"confidence,omitempty"`      // of the ranges in the text; 0: none is told
	Confusable []string  `json:"confusable_with,omitempty"` // what else it may be, likeliest first. Never changed
	Follows    []string  `json:"follows,omitempty"`         // what it brings with it, which raises no alarm of its own. Never changed

	Asked        time.Time `json:"asked,omitzero"`           // when it last asked for somebody: raised, more urgent, or again
	Reminders    int       `json:"reminders,omitempty"`      // how often it has asked again since the beginning
	Shelved      *Shelving `json:"shelved,omitempty"`        // nil: it is not. What it points to is never changed
	Suppressed   string    `json:"suppressed,omitempty"`     // by design, and why; "": it is not
	OutOfService *Service  `json:"out_of_service,omitempty"` // nil: it is in service
	Response     *Response `json:"response,omitempty"`       // what came of it, by the person who looked; nil: nobody has said
	Untold       bool      `json:"untold,omitempty"`         // it asked while it was held, and nobody was told
	Event        Event     `json:"event,omitempty"`          // what happened to it last; not that its words were renewed
	EventBy      string    `json:"event_by,omitempty"`       // the person who made it happen; "": it happened by itself
	Changes      int       `json:"changes,omitempty"`        // how often something happened to it
}

// Event is what happened to an alarm.
type Event string

// The events.
const (
	Raised       Event = "raised"
	Urged        Event = "more urgent"
	Reminded     Event = "still so"
	Acknowledged Event = "acknowledged"
	Confirmed    Event = "confirmed"
	Cleared      Event = "cleared"
	Shelved      Event = "shelved"
	Unshelved    Event = "unshelved"
	Suppressed   Event = "suppressed"
	Unsuppressed Event = "no longer suppressed"
	Removed      Event = "out of service"
	Restored     Event = "back in service"
)

// Asks tells whether the event asks for a person, if the alarm is active.
func (e Event) Asks() bool {
	switch e {
	case Raised, Urged, Reminded, Unshelved, Restored:
		return true
	}
	return false
}

// Shelving puts an alarm aside for a time: it goes on, and troubles nobody.
type Shelving struct {
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	From   time.Time `json:"from"`
	Until  time.Time `json:"until"`
	Once   bool      `json:"once,omitempty"` // it ends with the alarm, if that comes first
}

// Service takes an alarm out of service until a person puts it back, as while its sensor is away for repair.
type Service struct {
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	From   time.Time `json:"from"`
}

// Response is what a person found and did.
type Response struct {
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	Found  string    `json:"found"`
	Action string    `json:"action"`
}

// Active tells whether the cause still holds.
func (a *Alarm) Active() bool {
	return a.State == ActiveUnacknowledged || a.State == ActiveAcknowledged
}

// Standing tells whether the alarm still asks something of somebody: it is active, or nobody has seen it.
func (a *Alarm) Standing() bool { return a.State != Normal }

// Held tells whether it troubles nobody just now: it is shelved, suppressed by design or out of service.
func (a *Alarm) Held() bool {
	return a.Shelved != nil || a.Suppressed != "" || a.OutOfService != nil
}

// kept tells whether the next rise of its cause belongs to it: it stands, or a person has put it aside.
func (a *Alarm) kept() bool { return a.Standing() || a.Shelved != nil || a.OutOfService != nil }

// Cause returns the cause under which a finding raises its alarm.
func Cause(f *finding.Finding) string {
	return f.Collector + "/" + string(f.Kind) + "/" + f.Subject
}

// Kind is the kind of finding that raised it.
func (a *Alarm) Kind() finding.Kind {
	if parts := strings.SplitN(a.Cause, "/", 3); len(parts) == 3 {
		return finding.Kind(parts[1])
	}
	return ""
}

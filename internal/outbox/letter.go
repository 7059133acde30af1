package outbox

import (
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
)

// Kind says what a letter is.
type Kind string

// The kinds of letter.
const (
	Alarm     Kind = "alarm"     // an alarm has changed
	Heartbeat Kind = "heartbeat" // the daily sign that the watch is alive
	Digest    Kind = "digest"    // the week
	Test      Kind = "test"      // somebody wants to know whether letters arrive
	Standing  Kind = "standing"  // how an alarm stands, for programs; the newest of an alarm says it all
)

// Letter is one thing to tell.
type Letter struct {
	ID       string           `json:"id"` // the same for the same event
	Kind     Kind             `json:"kind"`
	Event    alarm.Event      `json:"event,omitempty"` // of an alarm
	Priority finding.Priority `json:"priority,omitempty"`
	Shop     string           `json:"shop"`
	At       time.Time        `json:"at"` // civil, by the clock as it was
	Boot     uint32           `json:"boot"`
	Subject  string           `json:"subject"` // one line
	Text     string           `json:"text"`
	Alarm    *alarm.Alarm     `json:"alarm,omitempty"` // as it stood
	Head     string           `json:"head,omitempty"`  // of the logbook's chain, in a digest
}

// urgent tells whether it may not wait for the morning.
func (l *Letter) urgent() bool {
	return l.Kind == Alarm && l.Priority == finding.ActToday && l.Event.Asks()
}

// waits tells whether quiet hours may hold it back. What goes out at hours that its owner has set does not wait.
func (l *Letter) waits() bool { return l.Kind == Alarm && !l.urgent() }

// State says how far a letter has come.
type State string

// The states of an item.
const (
	Waiting   State = "waiting"
	Delivered State = "delivered"
	Dead      State = "not delivered"
)

// Item is a letter on its way to one target.
type Item struct {
	Number uint64        `json:"number"` // from 1, in the order in which they were put
	Target string        `json:"target"`
	Letter Letter        `json:"letter"`
	State  State         `json:"state"`
	Tries  int           `json:"tries,omitempty"`
	Tried  time.Duration `json:"tried,omitempty"` // over how long
	Last   string        `json:"last,omitempty"`  // what went wrong last
	Ended  time.Time     `json:"ended,omitzero"`  // civil; when it was delivered or given up
}

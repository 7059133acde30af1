package alarm

import (
	"strings"
	"time"

	"ductward/internal/finding"
)

// suppressedBy tells why a cause is suppressed by design.
func suppressedBy(design Design, key string, f *finding.Finding) string {
	if design == nil {
		return ""
	}
	if f != nil {
		return design(f.Collector, f.Kind)
	}
	parts := strings.SplitN(key, "/", 3)
	if len(parts) < 2 {
		return ""
	}
	return design(parts[0], finding.Kind(parts[1]))
}

// release moves what stands beside the state of a cause's alarm, and tells whether anything changed: a shelf whose time is
// over, a design that suppresses now or no more.
func release(c *cause, now time.Time) bool {
	a := c.alarm
	was := a.Changes
	if s := a.Shelved; s != nil && !now.Before(s.Until) {
		a.Shelved = nil
		a.happen(Unshelved)
	}
	if a.Active() && (a.Suppressed == "") != (c.design == "") {
		a.Suppressed = c.design
		if c.design != "" {
			a.happen(Suppressed)
		} else {
			a.happen(Unsuppressed)
		}
	}
	if !a.Active() && a.Suppressed != "" { // it is over, and there is nothing to suppress
		a.Suppressed = ""
		a.happen(Unsuppressed)
	}
	a.speakUp(now)
	return a.Changes != was
}

// speakUp lets an alarm ask that asked in vain while it was held, once nothing holds it any more.
func (a *Alarm) speakUp(now time.Time) {
	if a.Untold && !a.Held() && a.State == ActiveUnacknowledged {
		a.ask(Raised, now)
	}
}

// ask notes that the alarm asks for somebody.
func (a *Alarm) ask(e Event, now time.Time) {
	a.Asked, a.Untold = now, a.Held()
	a.happen(e)
}

func (a *Alarm) happen(e Event) {
	a.Event, a.EventBy = e, ""
	a.Changes++
}

// shift moves the times of what stands beside the state, each in a copy.
func (a *Alarm) shift(move func(*time.Time) bool) (moved bool) {
	if a.Shelved != nil {
		s := *a.Shelved
		from, until := move(&s.From), move(&s.Until)
		if from || until {
			a.Shelved, moved = &s, true
		}
	}
	if a.OutOfService != nil {
		s := *a.OutOfService
		if move(&s.From) {
			a.OutOfService, moved = &s, true
		}
	}
	if a.Response != nil {
		r := *a.Response
		if move(&r.At) {
			a.Response, moved = &r, true
		}
	}
	return moved
}

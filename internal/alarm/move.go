package alarm

import (
	"fmt"
	"slices"
	"time"

	"ductward/internal/finding"
)

// holding moves a cause that holds, and tells whether its alarm changed.
func (m *Manager) holding(c *cause, f *finding.Finding, began, now time.Time) bool {
	// The earlier of the two: a journal line that turns into more brings its age with it, and a clock that was set back
	// must not hold the alarm up.
	if start := startOf(began, now); !c.holds || start.Before(c.since) {
		c.holds, c.since = true, start
	}
	if c.alarm != nil && c.alarm.Active() {
		return m.renew(c, f, now)
	}
	if now.Sub(c.since) < m.opt.delay(f.Priority).On {
		return false
	}
	m.raise(c, f, now)
	return true
}

// raise makes the cause's alarm active: the one that stands unseen, the one that this very finding raised before, or a
// new one.
func (m *Manager) raise(c *cause, f *finding.Finding, now time.Time) {
	key := Cause(f)
	if c.alarm == nil || !c.alarm.kept() {
		if old := m.byID[f.ID]; old != nil && old.Cause == key {
			c.alarm = old
		} else {
			c.alarm = &Alarm{ID: m.freeID(f, now), Cause: key, State: Normal}
			m.byID[c.alarm.ID] = c.alarm
		}
	}
	a := c.alarm
	a.State, _ = next(a.State, rise)
	a.Raised, a.Cleared, a.Acked, a.AckedBy, a.Response = now, time.Time{}, time.Time{}, "", nil
	a.Suppressed = c.design
	a.Times++
	a.ask(Raised, now)
	speak(c, f, now)
}

// renew brings the words of an active alarm up to date, and asks again where it asks for more than was told, or has stood
// for so long that it may have been forgotten.
func (m *Manager) renew(c *cause, f *finding.Finding, now time.Time) bool {
	a := c.alarm
	switch again := m.opt.delay(a.Priority).Again; {
	case urgency(f.Priority) > urgency(a.Priority):
		a.State, _ = next(a.State, escalate)
		a.Shelved = nil // it was shelved as something that could wait
		a.Acked, a.AckedBy = time.Time{}, ""
		a.ask(Urged, now)
		speak(c, f, now)
		return true
	case again > 0 && !a.Held() && now.Sub(later(a.Asked, a.Raised)) >= again:
		a.State, _ = next(a.State, realarm)
		a.Acked, a.AckedBy = time.Time{}, ""
		a.Reminders++
		a.ask(Reminded, now)
		speak(c, f, now)
		return true
	}
	if f.Priority == a.Priority && f.ID == a.Finding && !c.moved {
		if f.Text == a.Text && f.Action == a.Action && slices.Equal(c.follows, a.Follows) {
			return false
		}
		if age := now.Sub(c.renewed); age >= 0 && age < m.opt.Refresh {
			return false
		}
	}
	speak(c, f, now)
	return true
}

func speak(c *cause, f *finding.Finding, now time.Time) {
	a := c.alarm
	a.Finding, a.Priority, a.Text, a.Action, a.Follows = f.ID, f.Priority, f.Text, f.Action, c.follows
	a.Since, a.Confidence, a.Confusable = f.Onset, 0, f.ConfusableWith
	if f.Confidence > 0 && f.Confidence <= 1 { // a share that is known
		a.Confidence = f.Confidence
	}
	c.renewed, c.moved = now, false
}

// gone moves a cause that does not hold, and tells whether its alarm changed.
func (m *Manager) gone(c *cause, ended, now time.Time) bool {
	if c.holds {
		if ended.Before(c.since) { // of an earlier time; when this one ended is not told
			ended = now
		}
		c.holds, c.since = false, startOf(ended, now)
	}
	if c.since.After(now) {
		c.since = now
	}
	if c.alarm == nil || !c.alarm.Active() || now.Sub(c.since) < m.opt.delay(c.alarm.Priority).Off {
		return false
	}
	c.alarm.State, _ = next(c.alarm.State, fall)
	c.alarm.Cleared, c.alarm.Untold = now, false
	if s := c.alarm.Shelved; s != nil && s.Once {
		c.alarm.Shelved = nil
	}
	c.alarm.happen(Cleared)
	return true
}

// startOf returns when something began that is seen at now: as it was told, if that can be true.
func startOf(told, now time.Time) time.Time {
	if told.IsZero() || told.After(now) {
		return now
	}
	return told
}

// freeID returns the finding's own ID, or one made from it where another alarm has that.
func (m *Manager) freeID(f *finding.Finding, now time.Time) string {
	id := f.ID
	if id == "" {
		id = fmt.Sprintf("%s@%d", Cause(f), now.Unix())
	}
	for n, base := 2, id; m.byID[id] != nil; n++ {
		id = fmt.Sprintf("%s-%d", base, n)
	}
	return id
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

package alarm

import (
	"sync"
	"time"

	"ductward/internal/finding"
)

// Manager holds the alarms and moves them through their states. It is safe for concurrent use.
type Manager struct {
	mu     sync.Mutex
	opt    Options
	byID   map[string]*Alarm // all of them
	causes map[string]*cause // those with a standing or coming alarm
}

// cause is what the manager remembers of one cause between two updates.
type cause struct {
	alarm   *Alarm    // the standing one; nil: none yet
	holds   bool      // as of the last update
	since   time.Time // since when it holds, or is gone
	renewed time.Time // when the alarm's words were last renewed
	moved   bool      // the alarm has come here with its finding, and has not said so yet
	design  string    // why it is suppressed by design now; "" if it is not
	follows []string  // what follows from it now, in words
}

// NewManager goes on with the alarms that were there before, those that are over included.
func NewManager(existing []Alarm, opt Options) *Manager {
	m := &Manager{opt: opt, byID: map[string]*Alarm{}, causes: map[string]*cause{}}
	for _, a := range sorted(existing) {
		m.byID[a.ID] = &a
		if !a.kept() {
			continue
		}
		if older := m.causes[a.Cause]; older != nil { // only a store that was edited by hand can hold two
			older.alarm.State, older.alarm.Shelved, older.alarm.OutOfService = Normal, nil, nil
		}
		m.causes[a.Cause] = &cause{alarm: &a, holds: a.Active(), since: a.Raised, renewed: a.Raised}
	}
	return m
}

// Design tells why an alarm of a kind is suppressed by design in a collector just now, as because its fan is off; "" where
// it is not.
type Design func(collector string, kind finding.Kind) string

// Update moves every alarm to where it belongs at now, given all findings that are known; those that have ended, or ask
// nothing of anybody, hold no alarm. It returns the alarms that changed, in order of their causes' names; one to which
// two things happened comes twice, in their order.
func (m *Manager) Update(now time.Time, findings []finding.Finding) []Alarm {
	return m.UpdateBy(now, findings, nil)
}

// UpdateBy is Update where some kinds of alarm may be suppressed by design.
func (m *Manager) UpdateBy(now time.Time, findings []finding.Finding, design Design) []Alarm {
	m.mu.Lock()
	defer m.mu.Unlock()
	findings, follows := underCauses(findings)
	active, began, ended := sift(findings)
	for _, key := range sortedKeys(active) {
		if m.causes[key] == nil && !m.follow(key, active) {
			m.causes[key] = &cause{}
		}
	}
	var changed []Alarm
	for _, key := range sortedKeys(m.causes) {
		c := m.causes[key]
		c.design, c.follows = suppressedBy(design, key, active[key]), follows[key]
		if c.alarm != nil && release(c, now) {
			changed = append(changed, *c.alarm)
		}
		if f := active[key]; f != nil {
			if m.holding(c, f, began[key], now) {
				changed = append(changed, *c.alarm)
			}
		} else if m.gone(c, ended[key], now) {
			changed = append(changed, *c.alarm)
		}
		if !c.holds && (c.alarm == nil || !c.alarm.kept()) {
			delete(m.causes, key)
		}
	}
	return changed
}

// follow lets the standing alarm of a finding go with it to a new cause: what was found has turned out to be elsewhere,
// and is no second trouble. It tells whether there was one.
func (m *Manager) follow(key string, active map[string]*finding.Finding) bool {
	f := active[key]
	for _, old := range sortedKeys(m.causes) {
		c := m.causes[old]
		if c.alarm == nil || c.alarm.Finding != f.ID || active[old] != nil || !c.alarm.Active() {
			continue
		}
		delete(m.causes, old)
		c.alarm.Cause, c.moved = key, true
		m.causes[key] = c
		return true
	}
	return false
}

// sift returns the finding that speaks for each cause, since when a cause has held without a break, and when the last
// finding of a cause ended.
func sift(findings []finding.Finding) (active map[string]*finding.Finding, began, ended map[string]time.Time) {
	active, began, ended = map[string]*finding.Finding{}, map[string]time.Time{}, map[string]time.Time{}
	for i := range findings {
		f := &findings[i]
		if urgency(f.Priority) == 0 {
			continue
		}
		key := Cause(f)
		if !f.Active() {
			if f.Ended.After(ended[key]) {
				ended[key] = f.Ended
			}
			continue
		}
		old := active[key]
		if old == nil || f.Raised.Before(began[key]) {
			began[key] = f.Raised
		}
		if old == nil || speaksBefore(f, old) {
			active[key] = f
		}
	}
	return active, began, ended
}

// speaksBefore orders two findings of one cause: the more urgent, then the later, then by name.
func speaksBefore(a, b *finding.Finding) bool {
	if ua, ub := urgency(a.Priority), urgency(b.Priority); ua != ub {
		return ua > ub
	}
	if !a.Raised.Equal(b.Raised) {
		return a.Raised.After(b.Raised)
	}
	return a.ID > b.ID
}

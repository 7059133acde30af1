package alarm

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"ductward/internal/finding"
)

// The errors of Acknowledge, for those who must answer differently.
var (
	ErrUnknown = errors.New("no such alarm")
	ErrNoName  = errors.New("an acknowledgement needs the name of a person")
	ErrDone    = errors.New("nothing to acknowledge")
)

// longestName is the longest name, in bytes, that is taken for a person's.
const longestName = 80

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
}

// NewManager goes on with the alarms that were there before, those that are over included.
func NewManager(existing []Alarm, opt Options) *Manager {
	m := &Manager{opt: opt, byID: map[string]*Alarm{}, causes: map[string]*cause{}}
	for _, a := range sorted(existing) {
		m.byID[a.ID] = &a
		if !a.Standing() {
			continue
		}
		if older := m.causes[a.Cause]; older != nil { // only a store that was edited by hand can hold two
			older.alarm.State = Normal
		}
		m.causes[a.Cause] = &cause{alarm: &a, holds: a.Active(), since: a.Raised, renewed: a.Raised}
	}
	return m
}

// Update moves every alarm to where it belongs at now, given all findings that are known; those that have ended, or ask
// nothing of anybody, hold no alarm. It returns the alarms that changed, in order of their causes' names.
func (m *Manager) Update(now time.Time, findings []finding.Finding) []Alarm {
	m.mu.Lock()
	defer m.mu.Unlock()
	active, began, ended := sift(findings)
	for _, key := range sortedKeys(active) {
		if m.causes[key] == nil && !m.follow(key, active) {
			m.causes[key] = &cause{}
		}
	}
	var changed []Alarm
	for _, key := range sortedKeys(m.causes) {
		c := m.causes[key]
		if f := active[key]; f != nil {
			if m.holding(c, f, began[key], now) {
				changed = append(changed, *c.alarm)
			}
		} else if m.gone(c, ended[key], now) {
			changed = append(changed, *c.alarm)
		}
		if !c.holds && (c.alarm == nil || !c.alarm.Standing()) {
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
	if c.alarm == nil || !c.alarm.Standing() {
		if old := m.byID[f.ID]; old != nil && old.Cause == key {
			c.alarm = old
		} else {
			c.alarm = &Alarm{ID: m.freeID(f, now), Cause: key, State: Normal}
			m.byID[c.alarm.ID] = c.alarm
		}
	}
	a := c.alarm
	a.State, _ = next(a.State, rise)
	a.Raised, a.Cleared, a.Acked, a.AckedBy = now, time.Time{}, time.Time{}, ""
	a.Times++
	speak(c, f, now)
}

// renew brings the words of an active alarm up to date, and asks again where it asks for more than was acknowledged.
func (m *Manager) renew(c *cause, f *finding.Finding, now time.Time) bool {
	a := c.alarm
	more := urgency(f.Priority) > urgency(a.Priority)
	if more && a.State == ActiveAcknowledged {
		a.State, _ = next(a.State, escalate)
		a.Acked, a.AckedBy = time.Time{}, ""
	}
	if f.Priority == a.Priority && f.ID == a.Finding && !c.moved {
		if f.Text == a.Text && f.Action == a.Action {
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
	c.alarm.Finding, c.alarm.Priority, c.alarm.Text, c.alarm.Action = f.ID, f.Priority, f.Text, f.Action
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
	c.alarm.Cleared = now
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

// Acknowledge records that a named person has seen the alarm.
func (m *Manager) Acknowledge(id, by string, at time.Time) (Alarm, error) {
	by = strings.Join(strings.Fields(by), " ")
	if by == "" || len(by) > longestName {
		return Alarm{}, fmt.Errorf("acknowledge %q: %w of 1 to %d letters", id, ErrNoName, longestName)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	a := m.byID[id]
	if a == nil {
		return Alarm{}, fmt.Errorf("acknowledge %q: %w", id, ErrUnknown)
	}
	to, ok := next(a.State, acknowledge)
	if !ok {
		return *a, fmt.Errorf("acknowledge %q: %w: it is %s, last by %q", id, ErrDone, a.State, a.AckedBy)
	}
	a.State, a.Acked, a.AckedBy = to, at, by
	return *a, nil
}

// List returns all alarms, those that are over included, the one that became active last at the end.
func (m *Manager) List() []Alarm {
	m.mu.Lock()
	defer m.mu.Unlock()
	list := make([]Alarm, 0, len(m.byID))
	for _, a := range m.byID {
		list = append(list, *a)
	}
	return sorted(list)
}

func sorted(list []Alarm) []Alarm {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b Alarm) int {
		return cmp.Or(a.Raised.Compare(b.Raised), cmp.Compare(a.ID, b.ID))
	})
	return list
}

// Standing returns the alarms that still ask something of somebody: the more urgent first, then the older.
func (m *Manager) Standing() []Alarm {
	list := slices.DeleteFunc(m.List(), func(a Alarm) bool { return !a.Standing() })
	slices.SortStableFunc(list, func(a, b Alarm) int {
		return urgency(b.Priority) - urgency(a.Priority)
	})
	return list
}

func sortedKeys[T any](m map[string]T) []string { return slices.Sorted(maps.Keys(m)) }

// Shift moves every time from first to last by a duration, and returns the alarms that changed. It is for a clock that
// turns out to have been wrong over that span: on a board without a battery, everything since its start.
func (m *Manager) Shift(first, last time.Time, by time.Duration) []Alarm {
	m.mu.Lock()
	defer m.mu.Unlock()
	move := func(t *time.Time) bool {
		if t.IsZero() || t.Before(first) || t.After(last) {
			return false
		}
		*t = t.Add(by)
		return true
	}
	var changed []Alarm
	for _, a := range m.byID {
		raised, cleared, acked := move(&a.Raised), move(&a.Cleared), move(&a.Acked)
		if raised || cleared || acked {
			changed = append(changed, *a)
		}
	}
	for _, c := range m.causes {
		move(&c.since)
		move(&c.renewed)
	}
	return sorted(changed)
}

package alarm

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// The errors of what people do, for those who must answer differently.
var (
	ErrUnknown = errors.New("no such alarm")
	ErrNoName  = errors.New("an acknowledgement needs the name of a person")
	ErrDone    = errors.New("nothing to acknowledge")
	ErrWords   = errors.New("this needs words")
	ErrEnd     = errors.New("this needs another end")
)

// The longest name and text, in bytes, that are taken.
const (
	longestName = 80
	longestText = 1000
)

// Acknowledge records that a named person has seen the alarm.
func (m *Manager) Acknowledge(id, by string, at time.Time) (Alarm, error) {
	return m.person("acknowledge", id, &by, func(a *Alarm) error {
		to, ok := next(a.State, acknowledge)
		if !ok {
			return fmt.Errorf("%w: it is %s, last by %q", ErrDone, a.State, a.AckedBy)
		}
		a.State, a.Acked, a.AckedBy, a.Untold = to, at, by, false
		a.happen(Acknowledged)
		return nil
	})
}

// Shelve puts the alarm aside until a moment, or until it clears, whichever comes first, if once is set. How long that may
// be at most depends on its priority.
func (m *Manager) Shelve(id, by, reason string, at, until time.Time, once bool) (Alarm, error) {
	return m.person("shelve", id, &by, func(a *Alarm) error {
		most := m.opt.delay(a.Priority).Shelf
		switch {
		case a.State == Normal:
			return fmt.Errorf("%w: it is %s", ErrDone, a.State)
		case !words(&reason):
			return fmt.Errorf("%w: say why it may wait, in 1 to %d letters", ErrWords, longestText)
		case !until.After(at):
			return fmt.Errorf("%w: it must lie in the future", ErrEnd)
		case until.Sub(at) > most:
			return fmt.Errorf("%w: %q may be shelved for %v at most", ErrEnd, a.Priority, most)
		}
		a.Shelved = &Shelving{By: by, Reason: reason, From: at, Until: until, Once: once}
		a.happen(Shelved)
		return nil
	})
}

// Unshelve brings the alarm back before its time.
func (m *Manager) Unshelve(id, by string, at time.Time) (Alarm, error) {
	return m.person("unshelve", id, &by, func(a *Alarm) error {
		if a.Shelved == nil {
			return fmt.Errorf("%w: it is not shelved", ErrDone)
		}
		a.Shelved = nil
		a.happen(Unshelved)
		a.speakUp(at)
		return nil
	})
}

// TakeOut takes the alarm out of service until somebody puts it back.
func (m *Manager) TakeOut(id, by, reason string, at time.Time) (Alarm, error) {
	return m.person("take out of service", id, &by, func(a *Alarm) error {
		switch {
		case a.OutOfService != nil:
			return fmt.Errorf("%w: it is out of service already, by %q", ErrDone, a.OutOfService.By)
		case !words(&reason):
			return fmt.Errorf("%w: say why, in 1 to %d letters", ErrWords, longestText)
		}
		c := m.causes[a.Cause]
		if c == nil { // so that its next rise is still out of service
			c = &cause{since: at, renewed: at}
			m.causes[a.Cause] = c
		}
		if c.alarm == nil {
			c.alarm = a
		}
		if c.alarm != a {
			return fmt.Errorf("%w: %q is the alarm of the same cause that stands now", ErrDone, c.alarm.ID)
		}
		a.OutOfService = &Service{By: by, Reason: reason, From: at}
		a.happen(Removed)
		return nil
	})
}

// PutBack puts the alarm back in service.
func (m *Manager) PutBack(id, by string, at time.Time) (Alarm, error) {
	return m.person("put back in service", id, &by, func(a *Alarm) error {
		if a.OutOfService == nil {
			return fmt.Errorf("%w: it is in service", ErrDone)
		}
		a.OutOfService = nil
		a.happen(Restored)
		a.speakUp(at)
		return nil
	})
}

// Confirm records what a person found and did. It may be said again; the last word counts, and the logbook has them all.
func (m *Manager) Confirm(id, by, found, action string, at time.Time) (Alarm, error) {
	return m.person("confirm", id, &by, func(a *Alarm) error {
		if !words(&found) || !words(&action) {
			return fmt.Errorf("%w: say what was found and what was done, each in 1 to %d letters", ErrWords, longestText)
		}
		a.Response = &Response{By: by, At: at, Found: found, Action: action}
		a.happen(Confirmed)
		return nil
	})
}

// person does what a named person asks for with one alarm, which is as it was where that is an error.
func (m *Manager) person(what, id string, by *string, do func(*Alarm) error) (Alarm, error) {
	if *by = strings.Join(strings.Fields(*by), " "); *by == "" || len(*by) > longestName {
		return Alarm{}, fmt.Errorf("%s %q: %w of 1 to %d letters", what, id, ErrNoName, longestName)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	a := m.byID[id]
	if a == nil {
		return Alarm{}, fmt.Errorf("%s %q: %w", what, id, ErrUnknown)
	}
	if err := do(a); err != nil {
		return *a, fmt.Errorf("%s %q: %w", what, id, err)
	}
	a.EventBy = *by
	return *a, nil
}

// words trims a text, and tells whether there is one of a length that is taken.
func words(s *string) bool {
	*s = strings.TrimSpace(*s)
	return *s != "" && len(*s) <= longestText
}

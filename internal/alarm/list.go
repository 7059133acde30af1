package alarm

import (
	"cmp"
	"maps"
	"slices"
	"time"
)

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
		asked, aside := move(&a.Asked), a.shift(move)
		if raised || cleared || acked || asked || aside {
			changed = append(changed, *a)
		}
	}
	for _, c := range m.causes {
		move(&c.since)
		move(&c.renewed)
	}
	return sorted(changed)
}

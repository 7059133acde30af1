package outbox

import (
	"slices"
	"time"
)

// Status is how it goes with one target.
type Status struct {
	Target   string
	Waiting  int
	Dead     []Item    // newest first
	Last     time.Time // civil, of the last delivery; zero: none is remembered
	Failures int       // in a row
	Since    time.Duration
	Problem  string // of the last try; "" when it went well
}

// Status tells how it goes with each target, in the order of the shop file.
func (b *Box) Status() []Status {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := make([]Status, len(b.targets))
	for i, t := range b.targets {
		l := b.line[t]
		out[i] = Status{Target: t, Failures: l.failures, Since: l.since, Problem: l.problem}
	}
	for i := len(b.items) - 1; i >= 0; i-- {
		it := &b.items[i]
		at := slices.Index(b.targets, it.Target)
		if at < 0 {
			continue
		}
		s := &out[at]
		switch it.State {
		case Waiting:
			s.Waiting++
		case Dead:
			s.Dead = append(s.Dead, *it)
		case Delivered:
			if it.Ended.After(s.Last) {
				s.Last = it.Ended
			}
		}
	}
	return out
}

// Of returns the items that speak of an alarm, oldest first.
func (b *Box) Of(alarmID string) []Item {
	return b.where(func(it *Item) bool { return it.Letter.Alarm != nil && it.Letter.Alarm.ID == alarmID })
}

// All returns every item, oldest first.
func (b *Box) All() []Item { return b.where(func(*Item) bool { return true }) }

func (b *Box) where(keep func(*Item) bool) (out []Item) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range b.items {
		if keep(&b.items[i]) {
			out = append(out, b.items[i])
		}
	}
	return out
}

// Had returns the time of the newest letter of a kind to a target, whatever became of it; zero: none is remembered.
func (b *Box) Had(target string, k Kind) (at time.Time) {
	for _, it := range b.where(func(it *Item) bool { return it.Target == target && it.Letter.Kind == k }) {
		if it.Letter.At.After(at) {
			at = it.Letter.At
		}
	}
	return at
}

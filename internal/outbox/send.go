package outbox

import (
	"errors"
	"slices"
	"time"
)

// ErrRefused is wrapped by the error of a target that will never take this letter, though it takes others: it is dead at
// once, so that it holds up nothing behind it.
var ErrRefused = errors.New("refused for good")

// Next returns the letter that is due for a target at mono, and otherwise how long there is nothing to do; 0 means until
// something is put. Quiet tells that now lies in quiet hours, which end in calm.
func (b *Box) Next(target string, mono time.Duration, quiet bool, calm time.Duration) (Item, time.Duration, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	l := b.line[target]
	if l == nil {
		return Item{}, 0, false
	}
	at := b.head(target, quiet)
	switch wait := l.last + l.pause - mono; {
	case at < 0 && quiet && b.head(target, false) >= 0:
		return Item{}, calm, false
	case at < 0:
		return Item{}, 0, false
	case l.tried && wait > 0:
		return Item{}, wait, false
	}
	return b.items[at], 0, true
}

// Waiting returns the letter that a target waits for the longest, whatever pause its last failure has brought: a target that
// is there again does not wait it out.
func (b *Box) Waiting(target string) (Item, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if at := b.head(target, false); at >= 0 {
		return b.items[at], true
	}
	return Item{}, false
}

// head returns the index of the first letter that may go, −1 if none may.
func (b *Box) head(target string, quiet bool) int {
	pressing := map[string]bool{} // alarms that an urgent letter speaks of: what went before it goes with it
	if quiet {
		for i := range b.items {
			if it := &b.items[i]; it.Target == target && it.State == Waiting && it.Letter.urgent() {
				pressing[it.Letter.Alarm.ID] = true
			}
		}
	}
	return slices.IndexFunc(b.items, func(it Item) bool {
		if it.Target != target || it.State != Waiting {
			return false
		}
		return !quiet || !it.Letter.waits() || it.Letter.Alarm != nil && pressing[it.Letter.Alarm.ID]
	})
}

// Sent notes that a target has taken a letter.
func (b *Box) Sent(number uint64, now time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	it := b.item(number)
	if it == nil {
		return nil
	}
	b.end(it, Delivered, now, "")
	it.Tries++
	*b.line[it.Target] = line{}
	return b.flush()
}

// Failed notes that a target has not taken a letter.
func (b *Box) Failed(number uint64, mono time.Duration, now time.Time, why error) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	it := b.item(number)
	if it == nil {
		return nil
	}
	it.Tries++
	if errors.Is(why, ErrRefused) {
		b.end(it, Dead, now, why.Error())
		return b.flush()
	}
	b.unkept[number] = true
	it.Last = why.Error()
	l := b.line[it.Target]
	if l.failures == 0 {
		l.since, l.pause = mono, b.opt.First
	} else {
		spent := mono - l.last
		for i := range b.items { // they all wait for it
			if w := &b.items[i]; w.Target == it.Target && w.State == Waiting && w.Number <= number {
				w.Tried += spent
			}
		}
		l.pause = min(2*l.pause, b.opt.Most)
	}
	l.failures, l.last, l.tried, l.problem = l.failures+1, mono, true, it.Last
	if it.Tried >= b.opt.GiveUp {
		b.end(it, Dead, now, it.Last)
	}
	return b.flush()
}

// item finds a waiting item.
func (b *Box) item(number uint64) *Item {
	for i := range b.items {
		if it := &b.items[i]; it.Number == number && it.State == Waiting {
			return it
		}
	}
	return nil
}

// Tidy lets go of what ended long ago, and tries to store what is not stored yet.
func (b *Box) Tidy(now time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	newest, heard := map[string]uint64{}, map[string]uint64{} // of each target, the last heartbeat and the last that arrived
	last := map[[2]string]uint64{}                            // of each target and alarm, the newest word of how it stands
	for i := range b.items {
		it := &b.items[i]
		if it.Letter.Kind == Standing {
			last[[2]string{it.Target, it.Letter.Alarm.ID}] = it.Number
		}
		if it.Letter.Kind == Heartbeat {
			newest[it.Target] = it.Number
			if it.State == Delivered {
				heard[it.Target] = it.Number
			}
		}
	}
	var old []uint64
	for i := range b.items {
		it := &b.items[i]
		past := it.State != Waiting && !it.Ended.IsZero() && now.Sub(it.Ended) > b.opt.Keep
		beat := it.State != Waiting && it.Letter.Kind == Heartbeat && it.Number != newest[it.Target] && it.Number != heard[it.Target]
		stale := it.State != Waiting && it.Letter.Kind == Standing && it.Number != last[[2]string{it.Target, it.Letter.Alarm.ID}]
		if past || beat || stale {
			old = append(old, it.Number)
		}
	}
	if len(old) > 0 {
		if err := b.keep.DropItems(old); err != nil {
			return err
		}
		b.items = slices.DeleteFunc(b.items, func(it Item) bool { return slices.Contains(old, it.Number) })
		for _, n := range old {
			delete(b.unkept, n)
		}
	}
	return b.flush()
}

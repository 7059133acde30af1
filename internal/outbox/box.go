package outbox

import (
	"cmp"
	"errors"
	"slices"
	"sync"
	"time"
)

// Keeper stores items.
type Keeper interface {
	// PutItems writes items, new or changed; they are on the card when it returns.
	PutItems([]Item) error
	DropItems(numbers []uint64) error
	// Items returns what is stored; what cannot be read is named in the error.
	Items() ([]Item, error)
}

// Options are the choices of a Box.
type Options struct {
	First, Most time.Duration // between tries: the first pause, and the cap up to which it doubles
	GiveUp      time.Duration // of trying until a letter is dead
	Keep        time.Duration // how long what has ended is kept, by civil time
}

// DefaultOptions returns the usual choices (common practice, no source).
func DefaultOptions() Options {
	return Options{First: 10 * time.Second, Most: time.Hour, GiveUp: 3 * 24 * time.Hour, Keep: 400 * 24 * time.Hour}
}

// mostItems bounds what waits for one target: a shop's alarms of years.
const mostItems = 2000

// Box holds the items of all targets. It is safe for concurrent use.
type Box struct {
	keep Keeper
	opt  Options
	wake map[string]chan struct{} // by target; holds one token after something was put

	mu      sync.Mutex
	items   []Item // by rising number
	targets []string
	line    map[string]*line
	next    uint64
	unkept  map[uint64]bool // what the store did not take yet
	failed  error           // of the store, last time
}

// line is how it goes with one target.
type line struct {
	failures int
	since    time.Duration // monotonic time of the first failure in a row
	last     time.Duration // of the last try
	pause    time.Duration // after it
	tried    bool
	problem  string
}

// New goes on with what is stored. Letters to targets that there are no more are dead. The error tells of what could not
// be read or written; the box works all the same.
func New(keep Keeper, targets []string, now time.Time, opt Options) (*Box, error) {
	b := &Box{keep: keep, opt: opt, targets: targets, wake: map[string]chan struct{}{}, line: map[string]*line{},
		unkept: map[uint64]bool{}}
	for _, t := range targets {
		b.wake[t], b.line[t] = make(chan struct{}, 1), &line{}
	}
	items, err := keep.Items()
	slices.SortFunc(items, func(a, c Item) int { return cmp.Compare(a.Number, c.Number) })
	b.items = items
	for i := range b.items {
		it := &b.items[i]
		b.next = max(b.next, it.Number)
		if it.State == Waiting && b.line[it.Target] == nil {
			it.State, it.Ended, it.Last = Dead, now, "the shop file names this target no more"
			b.unkept[it.Number] = true
		}
	}
	for _, t := range targets {
		b.ring(t)
	}
	return b, errors.Join(err, b.flush())
}

// Wake returns a channel that holds a token after something was put for the target.
func (b *Box) Wake(target string) <-chan struct{} { return b.wake[target] }

func (b *Box) ring(target string) {
	select {
	case b.wake[target] <- struct{}{}:
	default:
	}
}

// Put adds letters for targets, and drops those that the target has or had. What the store does not take is delivered all
// the same; the error is the store's.
func (b *Box) Put(letters []Letter, targets ...string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, t := range targets {
		if b.line[t] == nil {
			continue
		}
		for _, l := range letters {
			b.put(l, t)
		}
		b.ring(t)
	}
	return b.flush()
}

func (b *Box) put(l Letter, target string) {
	waiting := 0
	for i := range b.items {
		it := &b.items[i]
		if it.Target != target {
			continue
		}
		if it.Letter.ID == l.ID {
			return
		}
		if it.State != Waiting {
			continue
		}
		waiting++
		if l.Kind == Heartbeat && it.Letter.Kind == Heartbeat { // the newer one says the same and more
			b.end(it, Dead, l.At, "a later one took its place")
		}
	}
	if waiting >= mostItems {
		for i := range b.items {
			if it := &b.items[i]; it.Target == target && it.State == Waiting {
				b.end(it, Dead, l.At, "too many were waiting")
				break
			}
		}
	}
	b.next++
	b.items = append(b.items, Item{Number: b.next, Target: target, Letter: l, State: Waiting})
	b.unkept[b.next] = true
}

func (b *Box) end(it *Item, s State, at time.Time, why string) {
	it.State, it.Ended, it.Last = s, at, why
	b.unkept[it.Number] = true
}

// flush stores what is not stored yet. The caller holds mu, or nobody else has the box.
func (b *Box) flush() error {
	if len(b.unkept) == 0 {
		return nil
	}
	var list []Item
	for i := range b.items {
		if b.unkept[b.items[i].Number] {
			list = append(list, b.items[i])
		}
	}
	if b.failed = b.keep.PutItems(list); b.failed == nil {
		clear(b.unkept)
	}
	return b.failed
}

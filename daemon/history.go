package daemon

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime/debug"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"ductward/internal/journal"
	"ductward/internal/reading"
)

// historyBatch is how many readings go from the sampler to the fold at a time in history: enough that handing over
// costs nothing, few enough to stay in a small board's cache.
const historyBatch = 4096

// advancer is a clock that moves when it is told to.
type advancer interface {
	Advance(d time.Duration)
}

// History lives through the time until a moment, as fast as it can: the clock is a virtual one, and the world moves with
// it. The sampling, its schedule, the fold and the store are those of Run, which may be called afterwards and goes on
// from there. Progress, if not nil, is called now and then from one goroutine.
//
// It could be lived through again, so that nothing is promised of its record before History returns: a power cut
// meanwhile can cost all of it.
func (d *Daemon) History(ctx context.Context, until time.Time, progress func(done, total time.Duration)) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	clk, ok := d.cfg.Clock.(advancer)
	if !ok || d.cfg.World == nil {
		return errors.New("history: needs a virtual clock and a simulated world")
	}
	s, err := d.session()
	if err != nil {
		return err
	}
	if err := s.ready(ctx); err != nil {
		return err
	}
	h := &history{s: s, clk: clk, world: d.cfg.World, progress: progress, batches: make(chan batch, 2),
		spare: make(chan []reading.Reading, 4)}
	h.mono = d.cfg.Clock.Mono()
	h.start, h.end = h.mono, h.mono+until.Sub(d.cfg.Clock.Now())
	if h.end < h.mono {
		return fmt.Errorf("history: %v is before the clock's %v", until, d.cfg.Clock.Now())
	}
	s.fold.logbook = d.logbook(until)
	return d.inBulk(s, func() error {
		g, ctx := errgroup.WithContext(ctx)
		g.Go(func() error { defer close(h.batches); return h.sample(ctx) })
		g.Go(func() error { return h.fold(ctx) })
		err := g.Wait()
		if err == nil {
			s.fold.enterUntil(until)
			s.fold.look(h.mono)
		}
		return errors.Join(err, s.fold.commit(h.mono))
	})
}

// logbook returns what is written down from the clock's moment until another, in order.
func (d *Daemon) logbook(until time.Time) []journal.Entry {
	var out []journal.Entry
	for _, e := range d.cfg.Logbook {
		if !e.Time.Before(d.cfg.Clock.Now()) && e.Time.Before(until) {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b journal.Entry) int { return a.Time.Compare(b.Time) })
	return out
}

// inBulk lets the store promise nothing while do runs. Where it cannot promise again afterwards, the session ends:
// nobody may go on in the belief that what is stored is safe.
func (d *Daemon) inBulk(s *session, do func() error) error {
	if err := s.store.Bulk(true); err != nil {
		return err
	}
	err := do()
	if failed := s.store.Bulk(false); failed != nil {
		return errors.Join(err, failed, d.close())
	}
	debug.FreeOSMemory() // a whole past at this speed takes far more than what follows will
	return err
}

// history is one life through the past. Two goroutines share it: one samples and moves the clock, the other folds.
type history struct {
	s          *session
	clk        advancer
	world      World
	progress   func(done, total time.Duration)
	batches    chan batch
	spare      chan []reading.Reading
	start, end time.Duration
	mono       time.Duration // where the world and the clock stand

	moved time.Duration // when a switch may have moved last
	next  time.Duration // when one moves next; negative: not known
}

// sample steps from one moment at which something is due to the next.
func (h *history) sample(ctx context.Context) error {
	h.moved = h.mono
	h.world.Advance(h.mono)
	h.next = h.world.Next()
	for {
		due := h.step()
		if h.s.in.waiting() >= historyBatch || h.mono >= h.end {
			if err := h.hand(ctx); err != nil {
				return err
			}
		}
		if h.mono >= h.end {
			return nil
		}
		h.move(min(due, h.end))
	}
}

// step reads what is due now, and returns when something is due next.
func (h *history) step() time.Duration {
	still := h.next >= 0 && h.mono-h.moved > settled
	due := time.Duration(math.MaxInt64)
	for _, g := range h.s.sampler.groups {
		due = min(due, h.s.sampler.step(g, h.mono, still))
	}
	h.s.in.beatIfDue(h.mono)
	if !still {
		return due
	}
	// Nothing has moved: the moments at which nothing would be recorded are passed over.
	next := min(h.next, h.s.in.nextBeat)
	wanted := time.Duration(math.MaxInt64)
	for _, g := range h.s.sampler.groups {
		for _, p := range g.probes {
			wanted = min(wanted, p.wanted(next))
		}
	}
	return max(due, wanted)
}

// wanted returns the first moment at which there is work for the probe if there is none for a switch before next.
func (p *probe) wanted(next time.Duration) time.Duration {
	from := p.due
	switch {
	case p.channel.isSwitch && p.health.sound():
		from = next
	case p.channel.asleep(p.due, p.recorded):
		from = min(p.recorded+restInterval, next)
	}
	if from <= p.due {
		return p.due
	}
	return p.due + (from-p.due+p.interval-1)/p.interval*p.interval
}

// move brings the clock and the world to a moment.
func (h *history) move(to time.Duration) {
	h.clk.Advance(to - h.mono)
	h.mono = to
	h.world.Advance(to)
	if to >= h.next { // also while it is not known
		h.moved = to
		h.next = h.world.Next()
	}
}

// hand gives the fold what has gathered.
func (h *history) hand(ctx context.Context) error {
	var spare []reading.Reading
	select {
	case spare = <-h.spare:
	default:
	}
	select {
	case h.batches <- h.s.in.swap(spare):
	case <-ctx.Done():
		return ctx.Err()
	}
	if h.progress != nil {
		h.progress(h.mono-h.start, h.end-h.start)
	}
	return nil
}

// fold takes the batches in order.
func (h *history) fold(ctx context.Context) error {
	f := h.s.fold
	for b := range h.batches {
		f.take(b)
		f.look(b.mono)
		if f.appending.stands() || f.keeping.stands() {
			return errors.New("history: the store fails: the log says why")
		}
		select {
		case h.spare <- b.readings:
		default:
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	return nil
}

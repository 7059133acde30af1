package rig

import (
	"errors"
	"fmt"
	"log/slog"
	"time"

	"ductward/internal/clock"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// Demo is a rig whose plants live through a story: working days from start to end, and unceasing work from end on, so
// that whoever looks then sees something happen. It follows the clock's civil time: asking any of its wires brings it to
// that moment, so that a history at the speed of the machine and a watch in real time share it.
type Demo struct {
	*Rig
	lives []*life
	end   time.Time
}

// life is what happens to one collector.
type life struct {
	plant  *plant.Plant
	work   *plant.Workdays
	story  Story
	day    int
	events []plant.Event // of day that are still to come
	next   time.Time     // when the first of them is, or the next day begins
}

// NewDemo makes the demo of a shop from start to end, and on. It first stands at start, on a virtual clock of its own;
// Use gives it another.
func NewDemo(s *shop.Shop, start, end time.Time, seed uint64) (*Demo, error) {
	if !end.After(start) {
		return nil, fmt.Errorf("rig: a demo must end after it starts, and %v is not after %v", end, start)
	}
	plants := map[string]*plant.Plant{}
	d := &Demo{end: end}
	for i, c := range s.Collectors {
		l, err := newLife(s, c, start, end, seed+uint64(i)*1000)
		if err != nil {
			return nil, fmt.Errorf("rig: %w", err)
		}
		plants[c.Name] = l.plant
		d.lives = append(d.lives, l)
	}
	r, err := New(plants, s, clock.NewVirtual(start))
	if err != nil {
		return nil, err
	}
	d.Rig = r
	r.before = d.advance
	return d, nil
}

// newLife makes a collector's plant and its story, and brings it to start.
func newLife(s *shop.Shop, c *shop.Collector, start, end time.Time, seed uint64) (*life, error) {
	p, err := plant.New(c, s.Site, plant.DefaultOptions(seed))
	if err != nil {
		return nil, err
	}
	story := tell(s, c, start, end)
	w, err := story.workdays(s, c, seed)
	if err != nil {
		return nil, err
	}
	l := &life{plant: p, work: w, story: story, day: w.DayOf(start)}
	l.begin(start)
	return l, nil
}

// begin takes up the events of the life's day that come at a moment or later.
func (l *life) begin(from time.Time) {
	midnight := l.work.Date(l.day)
	l.events = l.work.Day(l.day)
	for len(l.events) > 0 && midnight.Add(l.events[0].At).Before(from) {
		l.events = l.events[1:]
	}
	l.plan()
}

// plan notes when something happens next.
func (l *life) plan() {
	if len(l.events) > 0 {
		l.next = l.work.Date(l.day).Add(l.events[0].At)
		return
	}
	l.next = l.work.Date(l.day + 1)
}

// advance brings every plant to a moment. A moment that was before changes nothing.
func (d *Demo) advance(now time.Time) {
	for _, l := range d.lives {
		for !l.next.After(now) {
			l.step()
		}
	}
}

// step does what happens next.
func (l *life) step() {
	if len(l.events) == 0 {
		l.day++
		l.events = l.work.Day(l.day)
		l.plan()
		return
	}
	e := l.events[0]
	if err := l.plant.Apply(e); err != nil {
		// The story's names were checked when it was made, so this cannot happen; if it does, it must be seen.
		slog.Error("the demo's plant refuses an event", "event", e, "cause", err)
	}
	l.events = l.events[1:]
	l.plan()
}

// Advance brings the plants to the clock's moment without asking a wire, and returns why one of them has no solution.
func (d *Demo) Advance() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.moment()
	var errs []error
	for _, l := range d.lives {
		errs = append(errs, l.plant.Err())
	}
	return errors.Join(errs...)
}

// Truth returns what really happens in a collector now.
func (d *Demo) Truth(collector string) (plant.Truth, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.moment()
	for i, l := range d.lives {
		if d.lives[i].story.Collector == collector {
			return l.plant.Truth()
		}
	}
	return plant.Truth{}, fmt.Errorf("rig: the demo has no collector %q", collector)
}

// Stories returns what the demo lets happen, by collector.
func (d *Demo) Stories() []Story {
	var out []Story
	for _, l := range d.lives {
		out = append(out, l.story)
	}
	return out
}

// NextMove returns when a fan, a gate or a selector moves next, after the clock's moment. Where it is not settled yet it
// returns the next midnight, when it will be. Pressures move before: in a history, only they must be read until then.
func (d *Demo) NextMove() time.Time {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.moment()
	var next time.Time
	for _, l := range d.lives {
		if t := l.nextMove(); next.IsZero() || t.Before(next) {
			next = t
		}
	}
	return next
}

// nextMove returns when something of the life moves next, or the next midnight.
func (l *life) nextMove() time.Time {
	for _, e := range l.events {
		switch e.Kind {
		case plant.FanEvent, plant.GateEvent, plant.PortEvent:
			return l.work.Date(l.day).Add(e.At)
		}
	}
	return l.work.Date(l.day + 1)
}

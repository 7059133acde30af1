package plant

import (
	"math"
	"slices"
	"time"
)

// load is the filter's state at the end of a day.
type load struct {
	ratio   float64 // resistance against clean, without a tear
	stuck   float64 // what cleanings no longer recover
	waiting int     // working days until it is cleaned; -1: nobody thinks of it yet
}

// usualHours is the fan's time on a day of work, from which the dust of an hour is reckoned.
const usualHours = 6.4

// FilterAt returns the filter's resistance against clean at the end of day n, without a tear.
func (w *Workdays) FilterAt(n int) float64 {
	w.filterUpTo(n)
	if n < 0 {
		return w.o.FirstRatio
	}
	return w.filter[n].ratio
}

// filterUpTo works out the filter's days up to n.
func (w *Workdays) filterUpTo(n int) {
	for len(w.filter) <= n {
		w.Day(len(w.filter))
	}
}

// before returns the filter's state at the end of the day before.
func (w *Workdays) before(n int) load {
	if n == 0 {
		return load{ratio: w.o.FirstRatio, waiting: -1}
	}
	w.filterUpTo(n - 1)
	return w.filter[n-1]
}

// loadFilter adds to a day's events, which are in order, the cleaning and the growth of the filter's resistance: it
// grows with the fan's time and the day's dust, and is told at each event and every ten minutes.
func (w *Workdays) loadFilter(d *day) {
	r := w.stream(d.n, filterStream)
	s := w.before(d.n)
	dust := lognormal(r, w.o.LoadJitter) / math.Exp(w.o.LoadJitter*w.o.LoadJitter/2)
	patience, leaves, residue := r.IntN(w.o.Patience+1), 0.02*r.Float64(), w.o.Residue*(0.5+r.Float64())
	growth := (w.o.CleanAt - 1) / (w.o.LoadingDays * usualHours) * dust // per hour of the fan
	if w.busyDay(d.n) {
		growth *= usualHours / 24
	}
	if w.Working(d.n) && s.waiting == 0 {
		s.stuck += residue
		s.ratio, s.waiting = 1+s.stuck+leaves, -1
		d.add(Event{At: cleaningTime, Kind: CleanedEvent, Value: torn(s.ratio, w.o.Faults, d.n)})
	}
	w.grow(d, &s, growth)
	if w.Working(d.n) {
		s.wait(w.o.CleanAt, patience)
	}
	slices.SortStableFunc(d.events, byTime)
	if len(w.filter) == d.n {
		w.filter = append(w.filter, s)
	}
}

// cleaningTime is when a filter is cleaned: in the morning before work.
const cleaningTime = 6*time.Hour + 40*time.Minute

// wait thinks of cleaning at the end of a day.
func (s *load) wait(at float64, patience int) {
	switch {
	case s.waiting > 0:
		s.waiting--
	case s.waiting < 0 && s.ratio >= at:
		s.waiting = patience
	}
}

// grow adds the filter's events while the fan runs.
func (w *Workdays) grow(d *day, s *load, growth float64) {
	running := w.busyDay(d.n) && d.w.o.Busy.Before(w.Date(d.n))
	at := time.Duration(0)
	var added []Event
	tell := func(t time.Duration) {
		added = append(added, Event{At: t, Kind: FilterEvent, Value: torn(s.ratio, w.o.Faults, d.n)})
	}
	tell(cleaningTime + time.Minute)
	run := func(to time.Duration) {
		for at < to {
			next := min(to, at+10*time.Minute)
			if running {
				s.ratio += growth * (next - at).Hours()
				tell(next)
			}
			at = next
		}
	}
	for _, e := range d.events {
		if e.At > at {
			run(e.At)
		}
		if e.Kind == FanEvent {
			running = e.On
		}
	}
	run(24 * time.Hour)
	if n := len(added); n > 0 && added[n-1].At == 24*time.Hour {
		added = added[:n-1]
	}
	d.events = append(d.events, added...)
}

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
	for k := len(w.filter); k <= n; k++ {
		s := load{ratio: w.o.FirstRatio, waiting: -1}
		if k > 0 {
			s = w.filter[k-1]
		}
		w.filter = append(w.filter, w.loadDay(k, s, w.fanTimes(k), func(Event) {}))
	}
}

// fanTimes returns when the fan runs on day k; days are asked for in their order the first time.
func (w *Workdays) fanTimes(k int) []stretch {
	if k == len(w.fan) {
		w.fan = append(w.fan, w.fanRuns(w.people(k)))
	}
	return w.fan[k]
}

// Reloaded returns the same days with another number of working days from a clean filter to cleaning. It is much
// cheaper than NewWorkdays, since people do the same.
func (w *Workdays) Reloaded(days float64) *Workdays {
	out := *w
	out.o.LoadingDays = days
	out.filter = nil
	out.fan, out.weather = slices.Clip(w.fan), slices.Clip(w.weather)
	return &out
}

// stretch is a time of day from one moment to another.
type stretch struct{ from, to time.Duration }

// fanRuns returns when the fan runs on a day.
func (w *Workdays) fanRuns(d *day) []stretch {
	var out []stretch
	running := w.busyDay(d.n) && w.o.Busy.Before(w.Date(d.n)) // since the day before
	at := time.Duration(0)
	for _, e := range d.events {
		if e.Kind != FanEvent || e.On == running {
			continue
		}
		if running {
			out = append(out, stretch{at, e.At})
		}
		running, at = e.On, e.At
	}
	if running {
		out = append(out, stretch{at, 24 * time.Hour})
	}
	return out
}

// cleaningTime is when a filter is cleaned: in the morning before work.
const cleaningTime = 6*time.Hour + 40*time.Minute

// loadDay takes the filter through a day: it may be cleaned, and its resistance grows with the fan's time and the day's
// dust, which is told every ten minutes, or as often as pulses need.
func (w *Workdays) loadDay(n int, s load, fan []stretch, tell func(Event)) load {
	r := w.stream(n, filterStream)
	dust := lognormal(r, w.o.LoadJitter) / math.Exp(w.o.LoadJitter*w.o.LoadJitter/2)
	patience, leaves, residue := r.IntN(w.o.Patience+1), 0.02*r.Float64(), w.o.Residue*(0.5+r.Float64())
	growth := (w.o.CleanAt - 1) / (w.o.LoadingDays * usualHours) * dust // per hour of the fan
	if w.busyDay(n) {
		growth *= usualHours / 24
	}
	if f := inAll(w.o.Faults, DustEvent, n); f > 0 {
		growth *= f
	}
	value := func(at time.Duration, kind EventKind) {
		tell(Event{At: at, Kind: kind, Value: torn(s.ratio, w.o.Faults, n)})
	}
	value(0, FilterEvent) // a tear may have come with the day
	if w.Working(n) && s.waiting == 0 {
		s.stuck += residue
		s.ratio, s.waiting = 1+s.stuck+leaves, -1
		value(cleaningTime, CleanedEvent)
	}
	step := 10 * time.Minute
	if w.o.Pulse > 0 {
		step = w.o.Pulse / pulseSteps
	}
	for _, run := range fan {
		for at := run.from; at < run.to; {
			next := min(run.to, at+step)
			s.ratio += growth * (next - at).Hours()
			tell(Event{At: next, Kind: FilterEvent, Value: torn(w.pulsed(next, s.ratio), w.o.Faults, n)})
			at = next
		}
	}
	if w.Working(n) {
		s.wait(w.o.CleanAt, patience)
	}
	return s
}

// pulseSteps is in how many steps the resistance climbs back between two pulses.
const pulseSteps = 5

// pulsed returns the resistance, at a time of day, of a filter that is cleaned by pulses while the fan runs: at each it falls by
// a share, and climbs back to ratio until the next.
func (w *Workdays) pulsed(at time.Duration, ratio float64) float64 {
	if w.o.Pulse <= 0 {
		return ratio
	}
	left := 1 - float64(at%w.o.Pulse)/float64(w.o.Pulse)
	return ratio * (1 - w.o.PulseShare*left)
}

// wait thinks of cleaning at the end of a day.
func (s *load) wait(at float64, patience int) {
	switch {
	case s.waiting > 0:
		s.waiting--
	case s.waiting < 0 && s.ratio >= at:
		s.waiting = patience
	}
}

package plant

import (
	"time"

	"ductward/internal/shop"
)

// Closed says when the fan runs with every gate shut.
type Closed int

// The habits that a shop can have. Where its ducts are not rated for it, the fan must never run with all gates shut.
const (
	NeverClosed Closed = iota
	ClosedAtStart
	ClosedAtStop
	ClosedAtBoth
)

// WorkOptions say how a shop works. Start from DefaultWork.
type WorkOptions struct {
	Seed    uint64
	Start   time.Time // the midnight that day 0 begins at
	Site    shop.Site
	Closed  Closed
	Skipped float64       // share of days on which the closed stretch is left out
	Walk    bool          // on the first day of work somebody opens the gates one by one before work, as a commissioning asks
	Test    time.Duration // how long the fan runs with all gates shut after work on Fridays; 0: no such test
	Changes float64       // gate changes a working day, about
	AllDays bool          // no weekends and no holidays

	CleanAt     float64 // filter resistance against clean at which somebody thinks of cleaning
	Patience    int     // working days that it then waits, at most
	LoadingDays float64 // working days from clean to CleanAt
	LoadJitter  float64 // s.d. of the logarithm of a day's dust
	Residue     float64 // what a cleaning leaves for good, in units of the clean resistance, about
	FirstRatio  float64 // filter resistance on the first morning

	Pulse      time.Duration // between two pulses that clean the filter while the fan runs; 0: it has none
	PulseShare float64       // by which the resistance falls at each and climbs back until the next

	Busy   time.Time // from here on somebody always works: around the clock, a change about every minute; zero: never
	Faults []Fault
}

// DefaultWork returns the habits of a shop of a few people: five days a week, some 36 gate changes a day, and a filter
// that is cleaned about once in three to four weeks.
func DefaultWork(seed uint64, start time.Time) WorkOptions {
	return WorkOptions{Seed: seed, Start: start, Closed: ClosedAtStart, Skipped: 0.1, Changes: 36,
		CleanAt: 2.2, Patience: 2, LoadingDays: 17, LoadJitter: 0.35, Residue: 0.012, FirstRatio: 1.05}
}

// Working tells whether a day is one of work: Monday to Friday, except from 24 December to 1 January, the first of
// May, and one day in fifty on which nobody comes.
func (w *Workdays) Working(n int) bool {
	if n < 0 {
		return false
	}
	d := w.Date(n)
	if w.o.AllDays || w.busyDay(n) {
		return true
	}
	if d.Weekday() == time.Saturday || d.Weekday() == time.Sunday {
		return false
	}
	if d.Month() == time.December && d.Day() >= 24 || d.Month() == time.January && d.Day() == 1 {
		return false
	}
	if d.Month() == time.May && d.Day() == 1 {
		return false
	}
	return w.stream(n, offStream).Float64() >= 1.0/50
}

// Date returns the midnight that a day begins at.
func (w *Workdays) Date(n int) time.Time { return w.o.Start.AddDate(0, 0, n) }

// DayOf returns the number of the day that a moment falls on, in the location of Start.
func (w *Workdays) DayOf(t time.Time) int {
	t = t.In(w.o.Start.Location())
	y, m, d := t.Date()
	sy, sm, sd := w.o.Start.Date()
	to := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	from := time.Date(sy, sm, sd, 0, 0, 0, 0, time.UTC)
	return int(to.Sub(from) / (24 * time.Hour))
}

// busyDay tells whether all of a day, or part of it, is one of unceasing work.
func (w *Workdays) busyDay(n int) bool {
	return !w.o.Busy.IsZero() && !w.o.Busy.After(w.Date(n+1))
}

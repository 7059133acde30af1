package plant

import (
	"math"
	"math/rand/v2"
	"time"
)

// session is a stretch of a day with the fan on.
type session struct {
	from, to                time.Duration
	closedFirst, closedLast time.Duration // how long the fan runs with all gates shut; 0: not
	spacing                 float64       // s between actions, about
	goesOn                  bool          // the fan is not stopped at its end
}

// day is one day while it is made.
type day struct {
	w      *Workdays
	n      int
	r      *rand.Rand
	events []Event
	inUse  []int          // machines
	uses   []use          // of machines, in the order of their beginning
	port   map[string]int // where the hoses hang
	until  time.Duration  // when the ordinary part of the day ends
}

func (d *day) add(e Event) { d.events = append(d.events, e) }

// work adds the day's sessions.
func (d *day) work() {
	d.port = map[string]int{}
	if d.w.o.Walk && d.w.firstDay(d.n) {
		d.walk()
	}
	for _, s := range d.sessions() {
		d.session(s)
	}
	if d.w.o.Test > 0 && d.w.Date(d.n).Weekday() == time.Friday && !d.w.busyDay(d.n) {
		d.shutAll(testBegins)
		d.add(Event{At: testBegins, Kind: FanEvent, On: true})
		d.add(Event{At: testBegins + d.w.o.Test, Kind: FanEvent})
	}
}

// testBegins is when the weekly test is made: everybody has gone.
const testBegins = 15*time.Hour + 45*time.Minute

// firstDay tells whether no day before was one of work.
func (w *Workdays) firstDay(n int) bool {
	for k := range n {
		if w.Working(k) {
			return false
		}
	}
	return true
}

// The walk through the gates on the first day: it begins early, and stays at each machine for a while.
const (
	walkBegins = 5*time.Hour + 30*time.Minute
	walkStays  = 150 * time.Second
)

// walk opens every machine's gates alone, one machine after the other, the next before the last is shut.
func (d *day) walk() {
	t := walkBegins
	d.inUse = d.inUse[:0]
	for i := range d.w.machines {
		if i > 0 && !d.free(i) { // two machines on one hose: it is moved at once
			d.stop(t, 0)
		}
		d.use(i, t)
		if i == 0 {
			d.add(Event{At: t + 5*time.Second, Kind: FanEvent, On: true})
		}
		if len(d.inUse) > 1 {
			d.stop(t+3*time.Second, 0)
		}
		t += walkStays
	}
	d.add(Event{At: t, Kind: FanEvent})
	d.shutAll(t + 20*time.Second)
}

// minutes returns a random duration between two numbers of minutes.
func (d *day) minutes(low, high float64) time.Duration {
	return time.Duration((low + (high-low)*d.r.Float64()) * float64(time.Minute)).Truncate(time.Millisecond)
}

// actionChanges is how many gate changes one action makes, about: some are a swap of two gates.
const actionChanges = 1.5

// sessions returns when the fan runs: three stretches with a break and lunch between, or, once busy, all the time.
func (d *day) sessions() []session {
	var out []session
	busyFrom := 24 * time.Hour
	if d.w.busyDay(d.n) {
		busyFrom = max(0, d.w.o.Busy.Sub(d.w.Date(d.n)))
	}
	d.until = busyFrom
	if busyFrom > 0 {
		out = d.workingHours()
	}
	for t := busyFrom; t < 24*time.Hour; {
		end := min(24*time.Hour, (t + time.Hour).Truncate(time.Hour))
		if end-t < 10*time.Minute {
			end = min(24*time.Hour, end+time.Hour)
		}
		s := session{from: t, to: end, spacing: 60, goesOn: true}
		if d.w.o.Closed != NeverClosed && t > busyFrom { // the first one finds people at work
			s.closedFirst = d.minutes(1.3, 2)
		}
		out = append(out, s)
		t = end
	}
	return out
}

// workingHours returns the sessions of an ordinary day, cut off where unceasing work begins.
func (d *day) workingHours() []session {
	clock := func(h, m int) time.Duration { return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute }
	all := []session{
		{from: clock(7, 5) + d.minutes(0, 15), to: clock(9, 28) + d.minutes(0, 6)},
		{from: clock(9, 47) + d.minutes(0, 8), to: clock(11, 55) + d.minutes(0, 10)},
		{from: clock(12, 45) + d.minutes(0, 12), to: clock(14, 40) + d.minutes(0, 40)},
	}
	hours := 0.0
	for _, s := range all {
		hours += (s.to - s.from).Hours()
	}
	first, last := d.minutes(1, 3)+20*time.Second, d.minutes(1, 3)+20*time.Second
	skip := d.r.Float64() < d.w.o.Skipped
	if c := d.w.o.Closed; !skip && (c == ClosedAtStart || c == ClosedAtBoth) {
		all[0].closedFirst = first
	}
	if c := d.w.o.Closed; !skip && (c == ClosedAtStop || c == ClosedAtBoth) {
		all[2].closedLast = last
	}
	spacing := hours * 3600 * actionChanges / math.Max(1, d.w.o.Changes)
	out := all[:0]
	for _, s := range all {
		s.spacing = spacing
		if s.to >= d.until {
			s.to, s.goesOn = d.until, true
		}
		if s.to-s.from > 5*time.Minute {
			out = append(out, s)
		}
	}
	return out
}

// session adds the events of one session.
func (d *day) session(s session) {
	t := s.from
	d.inUse = d.inUse[:0]
	d.shutAll(t)
	if s.closedFirst > 0 {
		d.add(Event{At: t, Kind: FanEvent, On: true})
		t += s.closedFirst
		d.start(t)
	} else {
		d.start(t)
		t += d.minutes(0.05, 0.15)
		d.add(Event{At: t, Kind: FanEvent, On: true})
	}
	end := s.to - s.closedLast
	for {
		t += time.Duration((20 + (s.spacing-20)*d.r.ExpFloat64()) * float64(time.Second)).Truncate(time.Millisecond)
		if t >= end-30*time.Second {
			break
		}
		t = d.action(t)
	}
	if s.closedLast > 0 {
		d.shutAll(end)
	}
	if !s.goesOn {
		d.add(Event{At: s.to, Kind: FanEvent})
		d.shutAll(min(s.to+d.minutes(0.2, 1), max(s.to, d.until-time.Second)))
	}
}

// shutAll shuts every gate.
func (d *day) shutAll(t time.Duration) {
	for i := range d.uses {
		d.uses[i].end(t)
	}
	for _, g := range d.w.gates {
		d.add(Event{At: t, Kind: GateEvent, Name: g})
	}
	for _, s := range d.w.hung {
		d.add(Event{At: t, Kind: PortEvent, Name: s})
		d.port[s] = 0
	}
}

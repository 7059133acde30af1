package plant

import (
	"cmp"
	"math/rand/v2"
	"slices"

	"ductward/internal/shop"
)

// Workdays makes the events of a shop's days, each day from its own random numbers. What people do is drawn anew each
// day; the filter's load, the weather and the faults go on from day to day.
type Workdays struct {
	o        WorkOptions
	machines []machine
	gates    []string
	selects  []string
	likes    []float64   // how often each machine is used
	filter   []load      // state of the filter at the end of each day
	fan      [][]stretch // when the fan runs on each day
	weather  []float64   // barometer and temperature, two for each day: standard normal
	hung     []string    // selectors of machines without a gate: what shuts them is a hose that hangs on nothing
}

// NewWorkdays prepares the days of a collector's shop.
func NewWorkdays(c *shop.Collector, o WorkOptions) (*Workdays, error) {
	n, err := build(c)
	if err != nil {
		return nil, err
	}
	p := &Plant{c: c, net: n}
	p.index()
	if err := p.findMachines(); err != nil {
		return nil, err
	}
	w := &Workdays{o: o}
	r := rand.New(rand.NewPCG(o.Seed, likesStream))
	for _, m := range p.machines {
		if len(m.gates) == 0 && len(m.ports) == 0 {
			continue // always open: nobody moves anything
		}
		if len(m.gates) == 0 {
			for _, sp := range m.ports {
				w.hung = append(w.hung, c.Selectors[sp[0]].Name)
			}
		}
		w.machines = append(w.machines, m)
		w.likes = append(w.likes, lognormal(r, 0.5))
	}
	for _, g := range c.Gates {
		w.gates = append(w.gates, g.Name)
	}
	for _, s := range c.Selectors {
		w.selects = append(w.selects, s.Name)
	}
	return w, nil
}

// The purposes of a shop's random numbers; a day's are its number times dayStreams plus one of the last group.
const (
	likesStream = 1
	dayStreams  = 16
)
const (
	offStream = iota + 2
	workStream
	filterStream
	weatherStream
	chipStream
)

// stream returns the random numbers of a day for a purpose.
func (w *Workdays) stream(day int, purpose uint64) *rand.Rand {
	return rand.New(rand.NewPCG(w.o.Seed, uint64(day+1)*dayStreams+purpose))
}

// Day returns the events of day n in their order: n = 0 is the day that begins at Start. A day without work has its
// weather and its faults, and the fan stays off.
func (w *Workdays) Day(n int) []Event {
	d := w.people(n)
	before := load{ratio: w.o.FirstRatio, waiting: -1}
	if n > 0 {
		w.filterUpTo(n - 1)
		before = w.filter[n-1]
	}
	w.loadDay(n, before, w.fanRuns(d), d.add)
	d.add(Event{At: 0, Kind: DayEvent})
	for i := range w.o.Faults {
		for _, e := range w.o.Faults[i].events(n) {
			d.add(e)
		}
	}
	w.cut(d)
	w.air(d)
	slices.SortStableFunc(d.events, byTime)
	return d.events
}

// people returns a day with what people do on it, in order.
func (w *Workdays) people(n int) *day {
	d := &day{w: w, n: n, r: w.stream(n, workStream)}
	if w.Working(n) {
		d.work()
	}
	slices.SortStableFunc(d.events, byTime)
	return d
}

// byTime orders events.
func byTime(a, b Event) int { return cmp.Compare(a.At, b.At) }

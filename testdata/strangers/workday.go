package main

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// workday is one day of a life.
type workday struct {
	*life
	day   int
	date  time.Time
	moves []move
	dust  float64
	open  []bool
	fan   bool
	stuck []int

	noted   []time.Duration // by gate: when the last move was noted
	unnoted []bool          // and whether this use is not

	fanAt time.Duration

	hidden, stay         int
	resistance, fanHours float64
	check                bool
}

const (
	runUp    = 5 * time.Second // from the switch to the fan's speed
	perCubic = 5e-6            // by which a clean filter's resistance rises with each cubic metre of air
)

func (d *workday) run() error {
	slices.SortStableFunc(d.moves, func(a, b move) int { return int(a.at - b.at) })
	for i := range d.machines {
		d.gateRow(7*time.Hour, i, false)
	}
	d.fanRow(7*time.Hour, false)
	next := 0
	for at := 7 * time.Hour; at < 16*time.Hour+15*time.Minute; at += time.Minute {
		m := minute{}
		now := at
		for now < at+time.Minute {
			until := at + time.Minute
			if next < len(d.moves) && d.moves[next].at < until {
				until = max(d.moves[next].at, now)
			}
			if err := d.pass(&m, now, until); err != nil {
				return err
			}
			now = until
			for next < len(d.moves) && d.moves[next].at <= now {
				d.move(d.moves[next])
				next++
			}
		}
		d.write(&m, at+time.Minute)
	}
	last := truthDay{Date: d.date.Format("2006-01-02"), Filter: d.filter, Speed: 1, Check: d.check, Hidden: d.hidden, Stays: d.stay}
	if d.fanHours > 0 {
		last.Filter = d.resistance / d.fanHours
	}
	for _, f := range d.faults {
		switch f.Kind {
		case "leak", "lid":
			last.Leak += f.Size * f.share(d.day, 16)
		case "slip":
			last.Speed *= 1 - f.Size*f.share(d.day, 16)
		}
	}
	d.truth.Days = append(d.truth.Days, last)
	return nil
}

func (d *workday) move(m move) {
	if m.machine < 0 {
		d.fan = m.on
		if m.on {
			d.fanAt = m.at
			d.check = d.check || !slices.Contains(d.open, true)
		}
		d.fanRow(m.at, m.on)
		return
	}
	d.open[m.machine] = m.on
	if m.on {
		d.hood[m.machine] = d.jitter * d.r.NormFloat64()
	}
	d.gateRow(m.at, m.machine, m.on)
}

// minute gathers what a minute's samples read.
type minute struct {
	seconds float64
	sum     [5]float64
	square  [5]float64
	noise   [5]float64 // variance of a sample
}

// pass lets time pass in which nothing is moved.
func (d *workday) pass(m *minute, from, until time.Duration) error {
	span := (until - from).Seconds()
	if span <= 0 {
		return nil
	}
	if d.fan && from < d.fanAt+runUp { // it comes up to speed: half of it is taken to read as it stood, half as it runs
		still := min(span, (d.fanAt + runUp - from).Seconds())
		m.add(still, reading{})
		span -= still
	}
	if !d.fan || span <= 0 {
		m.add(span, reading{})
		return nil
	}
	hour := from.Hours()
	c := d.condition(hour)
	for i, o := range c.open {
		if x := d.x[i]; o && !(x > 0.02 && x < 3) { // flows and pressures begin somewhere
			d.x[i] = 0.3
		} else if !o && !(x > 10) {
			d.x[i] = 1500
		}
	}
	s := newSensing()
	restore := d.leaks()
	for i := range d.faults {
		d.faults[i].put(d.plant, c, s, d.day, hour)
	}
	r, ok := d.solve(d.x, c)
	restore()
	if !ok {
		return fmt.Errorf("the plant has no solution at %v", from)
	}
	m.add(span, r)
	d.resistance += d.filter * span
	d.fanHours += span
	d.filter += perCubic * d.dust * r.total * span
	return nil
}

// leaks returns what sets all openings back to what they are now.
func (d *workday) leaks() func() {
	type kept struct {
		at *opening
		x  opening
	}
	var all []kept
	for _, l := range d.limbs {
		for _, o := range []*opening{&l.seams, &l.seat, &l.openSide} {
			all = append(all, kept{o, *o})
		}
	}
	return func() {
		for _, k := range all {
			*k.at = k.x
		}
	}
}

func (d *workday) condition(hour float64) *condition {
	_, _, rho := d.weather.at(d.day, hour)
	c := &condition{open: slices.Clone(d.open), choke: map[*limb]float64{}, filter: d.filter, speed: 1, air: air{rho}}
	for _, i := range d.stuck {
		c.open[i] = true
	}
	for i := range d.machines {
		c.hood = append(c.hood, math.Exp(d.hood[i]+d.stirred[i].step(d.r)))
		c.block = append(c.block, 1)
	}
	return c
}

func (m *minute) add(span float64, r reading) {
	m.seconds += span
	for i, v := range r.values() {
		m.sum[i] += span * v
		m.square[i] += span * v * v
		noise := 0.2
		if r.total > 0 {
			noise = math.Hypot(2, 0.06*r.trunkVelocity)
			if i == 0 {
				noise = math.Hypot(0.8, 0.01*v)
			}
		}
		m.noise[i] += span * noise * noise
	}
}

func (r reading) values() [5]float64 {
	return [5]float64{r.filterDrop, r.trunkStatic, r.trunkVelocity, r.farStatic, r.middleStatic}
}

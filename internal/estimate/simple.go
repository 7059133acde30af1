package estimate

import (
	"math"

	"ductward/internal/air"
	"ductward/internal/steady"
)

// roughRun is one run as the lumped model reads it.
type roughRun struct {
	run    *steady.Run
	filter Value // log resistance; V NaN where too little air passes to tell it
	flow   Value
	byFan  float64 // see fit

	drop, dropSE float64 // Pa
	suction      float64 // Pa, positive
	told         bool    // something tells its gates
	shut         bool    // every gate is shut
	hours        float64 // of the fan, since the day's first run
	still        float64 // of one that is: see fanAtRest; NaN: not known
	air          air.State
	known        weather
}

// simpleRun takes a run of a collector without a drawing.
func (e *Estimator) simpleRun(d *dayData, r *steady.Run) {
	switch {
	case e.lump != nil:
		e.lump.beat(e, r)
		if o, ok := e.lump.take(e, d, r); ok {
			d.rough = append(d.rough, o)
		}
	case e.curve != nil:
		e.curveRun(d, r)
	}
}

// leastFlow is the share of the filter's clean flow below which the fan's curve is too flat to tell the flow.
const leastFlow = 0.3

// take reads a run.
func (l *lump) take(e *Estimator, d *dayData, r *steady.Run) (roughRun, bool) {
	drop, static := channelOf(r, l.dropCh), channelOf(r, l.statCh)
	if drop == nil || static == nil || math.IsNaN(drop.SE) || static.Mean > -50 || e.leftAside(l.dropCh) || e.leftAside(l.statCh) {
		return roughRun{}, false
	}
	run := *r
	o := roughRun{run: &run, filter: Value{V: math.NaN()}, flow: Value{V: math.NaN()}, drop: drop.Mean,
		dropSE: math.Hypot(drop.SE, e.zeroError(drop)), suction: -static.Mean,
		told: len(e.collector.Gates) > 0 && r.Kind != steady.Unknown, shut: r.Kind == steady.Closed,
		still: math.NaN(), air: e.airOf(r), known: e.measured(r)}
	if n := len(d.rough); n > 0 {
		o.hours = d.rough[n-1].hours + r.FanHours
	}
	if o.shut {
		return o, true
	}
	if l.takeVelocity(e, &o) {
		return o, true
	}
	guess := 0.0
	if n := len(e.filter.points); n > 0 {
		guess = e.filter.points[n-1].log.V
	}
	for _, x := range d.rough {
		if !math.IsNaN(x.filter.V) {
			guess = x.filter.V
		}
	}
	l.readFan(e, &o, guess)
	return o, true
}

// readFan reads a run by the fan's curve.
func (l *lump) readFan(e *Estimator, o *roughRun, guess float64) {
	f, q, byFan, ok := l.fit(e, o.run, guess)
	if !ok || !o.told && q.V < leastFlow*l.cleanFlow {
		f, q = Value{V: math.NaN()}, Value{V: math.NaN()}
	}
	o.filter, o.flow, o.byFan = f, q, byFan
}

// closeSimple ends a day of a collector without a drawing.
func (e *Estimator) closeSimple(d *dayData) {
	if e.lump == nil && e.curve != nil {
		e.closeCurve(d)
		return
	}
	d.at = len(e.summary)
	if e.lump == nil || !e.lump.settle(d) {
		e.summary = append(e.summary, e.bare(d))
		return
	}
	e.markRough(d)
	e.days = append(e.days, d)
	if len(e.days) > window {
		e.days = e.days[1:]
	}
	e.summary = append(e.summary, e.bare(d))
	e.simpleBaseline()
	if e.cal != nil {
		e.filterDay(d)
		e.simpleLeak(d)
		e.summary[d.at] = e.describeSimple(d)
	}
}

// settle pools what the runs of a day say of the filter, and finds those with every gate shut. It fails where none tells the filter.
func (l *lump) settle(d *dayData) bool {
	p := pooled(l.read(d, Value{}))
	if math.IsNaN(p.V) {
		return false
	}
	d.closed = 0
	for i := range d.rough {
		r := &d.rough[i]
		if !r.told {
			r.shut = l.through(r.drop, p.V) < l.shut && r.drop+r.suction > shutPull*l.most
		}
		if r.shut {
			d.closed++
			r.still = l.fanAtRest(r, p.V)
		}
	}
	vs := l.read(d, l.fanToday(d))
	if len(vs) == 0 {
		return false
	}
	d.slope = l.loading(d, vs)
	p = pooled(vs)
	p.SE = math.Hypot(math.Hypot(p.SE, dayErrorLong), lumpDay)
	d.filter = []Value{p}
	return true
}

// shutPull is the least share of what the fan makes with next to no air that a gate-shut stretch pulls: a drop that is read as none while
// the suction is that of a machine at work is a tube that is off.
const shutPull = 0.8

// leftAside tells whether a channel is not believed.
func (e *Estimator) leftAside(channel string) bool {
	return e.distrusted[channel] || e.refused[channel] || e.faults.pulses[channel].out
}

// beat looks whether the two pressures of a run answer the fan at all: while the one reads what a machine at work makes, the other reads
// at least what it did with the least of them.
func (l *lump) beat(e *Estimator, r *steady.Run) {
	drop, static := channelOf(r, l.dropCh), channelOf(r, l.statCh)
	if e.cal == nil || drop == nil || static == nil || r.Kind == steady.Closed {
		return
	}
	least, pull := l.leastDrop*math.Exp(e.logFilterNow()), -static.Mean
	if drop.Mean > liveShare*least && !e.distrusted[l.dropCh] {
		e.faults.beat(e, l.statCh, &observation{run: r}, answer{share: pull / l.leastPull})
	}
	if pull > liveShare*l.leastPull && !e.distrusted[l.statCh] && !e.refused[l.statCh] && drop.Mean+pull < shutPull*l.most {
		e.faults.beat(e, l.dropCh, &observation{run: r}, answer{share: drop.Mean / least})
	}
}

// loading returns by how much the log of the resistance rises per hour of the fan within a day.
func (l *lump) loading(d *dayData, vs []Value) Value {
	hours := d.rough[len(d.rough)-1].hours
	if hours <= 0 {
		return Value{}
	}
	precision, sum, at := math.Pow(hours/mostLoading, 2), 0.0, pooled(vs).V
	middle, k := l.middle(d), 0
	for i := range d.rough {
		if r := &d.rough[i]; r.tells() {
			w := 1 / (vs[k].SE*vs[k].SE + lumpDay*lumpDay)
			precision += w * math.Pow(r.hours-middle, 2)
			sum += w * (r.hours - middle) * (vs[k].V - at)
			k++
		}
	}
	return Value{sum / precision, 1 / math.Sqrt(precision)}
}

// mostLoading is how much a filter may load in a day, as a standard deviation of the log of its resistance (common practice, no source).
const mostLoading = 0.05

// middle returns the hour of the runs that tell of the filter, on the mean.
func (l *lump) middle(d *dayData) float64 {
	sum, n := 0.0, 0.0
	for i := range d.rough {
		if r := &d.rough[i]; r.tells() {
			sum, n = sum+r.hours, n+1
		}
	}
	return sum / max(n, 1)
}

// lumpDay is the error of a day's log resistance besides: which machines were in use moves it, since what the parts do otherwise than
// stated goes with the flow (on simulated shops).
const lumpDay = 0.013

// tells tells whether a run with a gate open tells the filter's resistance.
func (r *roughRun) tells() bool { return !r.shut && !math.IsNaN(r.filter.V) }

// read lists what the runs of a day say of the filter, if the log of the fan's speed is otherwise than the baseline's by a value.
func (l *lump) read(d *dayData, today Value) []Value {
	var out []Value
	mean, n := 0.0, 0.0
	for i := range d.rough {
		if r := &d.rough[i]; r.tells() {
			mean, n = mean+r.byFan, n+1
			out = append(out, Value{r.filter.V + r.byFan*today.V, math.Hypot(r.filter.SE, (r.byFan-l.byFan)*max(l.fan.SE, curveLaw))})
		}
	}
	for i := range out { // what they share makes their mean no better
		out[i].SE = math.Hypot(out[i].SE, mean/n*today.SE*math.Sqrt(n))
	}
	return out
}

// markRough puts the runs that tell of the filter where those of a collector with a drawing are.
func (e *Estimator) markRough(d *dayData) {
	for _, r := range d.rough {
		if !r.tells() {
			continue
		}
		o := observation{run: r.run, set: e.setOf(r.run)}
		if n := len(d.obs); n > 0 {
			o.at = d.obs[n-1].at + r.run.FanHours
		}
		d.obs = append(d.obs, o)
	}
}

// through returns the air that passes the filter, in m³/s, by its drop in Pa, and its log resistance.
func (l *lump) through(drop, log float64) float64 { return drop / (l.viscous * math.Exp(log)) }

// describeSimple makes the summary of a day of a collector without a drawing.
func (e *Estimator) describeSimple(d *dayData) Day {
	out := e.bare(d)
	out.Runs = len(d.obs)
	out.FilterRatio = e.ratio(d.filter[0])
	out.Leakage = e.simpleLeakage()
	var sum, hours, rel float64
	for _, r := range d.rough {
		if r.shut || math.IsNaN(r.flow.V) {
			continue
		}
		h := (r.run.End - r.run.Start).Hours()
		sum += r.flow.V * h
		hours += h
		rel = r.flow.SE / r.flow.V
	}
	if hours > 0 {
		out.Flow = Value{sum / hours, rel * sum / hours}
	}
	out.Due = e.forecast()
	e.tellDue(out.Due)
	return out
}

// simpleNow is Now for a collector without a drawing.
func (e *Estimator) simpleNow(n Now, r *steady.Run) Now {
	if e.cal == nil {
		return n
	}
	n.Filter = e.filterNow()
	if e.lump == nil {
		return n
	}
	n.Leakage = e.simpleLeakage()
	if drop := channelOf(r, e.lump.dropCh); r.Kind == steady.Running && drop != nil && e.lump.through(drop.Mean, e.logFilterNow()) > e.lump.shut {
		if f, q, _, ok := e.lump.fit(e, r, e.logFilterNow()); ok {
			n.Flow = q
			n.Filter = e.ratio(f)
		}
	}
	return n
}

package estimate

import (
	"math"

	"ductward/internal/finding"
	"ductward/internal/steady"
)

// Now returns the estimate for the run that goes on: what the calibrated model says of these gates with the filter, the
// leakage and the fan of the last day.
func (e *Estimator) Now(r steady.Run, settled bool) Now {
	r = e.telling.believed(r)
	nan := Value{math.NaN(), math.NaN()}
	n := Now{At: r.At, Open: append([]string(nil), r.Open...), Sure: 1, Settled: settled, Flow: nan, Filter: nan, Leakage: nan}
	if r.Kind == steady.Unknown {
		n.Sure = math.NaN()
	} else {
		n.Set = e.newGateSet(&r).name()
	}
	if e.viewer == nil {
		return e.simpleNow(n, &r)
	}
	if e.cal == nil {
		if e.plainUsed {
			if r.Kind == steady.Unknown {
				r.Kind = steady.Running
			}
			return e.plain.simpleNow(n, &r)
		}
		return n
	}
	n.Filter, n.Leakage = e.filterNow(), e.leakNow()
	if r.Kind == steady.Unknown {
		named, sure, ok := e.peek(&r)
		if n.Sure = sure; !ok {
			return n
		}
		r, n.Open = named, append([]string(nil), named.Open...)
	}
	if r.Kind == steady.Zero {
		return n
	}
	g := e.newGateSet(&r)
	set := &g
	s := &state{logFilter: e.logFilterNow(), params: e.known(len(e.summary)), globals: e.cal.globals}
	// solved apart from the fold's own solutions: looking must not change what is found
	res, err := e.viewer.model.Solve(e.viewer.ductState(set, s, e.airOf(&r)))
	if err != nil {
		return n
	}
	rel := e.flowError()
	n.Flow = Value{V: res.FanFlow, SE: rel * res.FanFlow}
	for _, m := range res.Machines {
		n.Machines = append(n.Machines, MachineAir{Machine: m.Name, Open: m.Open, Flow: Value{V: m.Flow, SE: rel * math.Abs(m.Flow)}, Needs: m.Needs})
	}
	for _, run := range res.Runs {
		if e.undrawn {
			break
		}
		n.Runs = append(n.Runs, RunAir{Run: run.Name, Flow: run.Flow, Velocity: run.Velocity, Static: run.StaticEnd,
			Settles: run.Flow > 0 && run.Velocity < e.transport() && e.carries(run.Name, res)})
	}
	return n
}

// logFilterNow returns the last known log resistance over the shop file's clean value.
func (e *Estimator) logFilterNow() float64 {
	if n := len(e.filter.points); n > 0 {
		return e.filter.points[n-1].log.V
	}
	return e.cal.logFilter
}

// filterNow returns the last known resistance over the baseline's.
func (e *Estimator) filterNow() Value {
	if n := len(e.filter.points); n > 0 {
		return e.ratio(e.filter.points[n-1].log)
	}
	return Value{1, e.filter.baseSE}
}

// leakNow returns the total new leakage by the local level.
func (e *Estimator) leakNow() Value {
	if !e.level.Known {
		return Value{math.NaN(), math.NaN()}
	}
	scale := e.leakScale() * e.level.Mean
	return Value{V: e.level.Mean, SE: math.Sqrt(e.level.variance() + scale*scale)}
}

// describe makes the summary of a finished day; untold is what may have changed of the log of the fan's speed untold.
func (e *Estimator) describe(d *dayData, untold Value) Day {
	out := e.bare(d)
	out.Innovation = d.innovation
	if n := len(d.filter); n > 0 && d.filter[n-1].SE <= filterBlind {
		out.FilterRatio = e.ratio(d.filter[len(d.filter)-1])
	}
	known := e.known(d.at)
	out.FanRatio = e.fanRatio(d, untold)
	out.Leakage = e.leakNow()
	out.Flow = e.meanFlow(d)
	for i, m := range e.cols.machines {
		f := math.Exp(known[e.cols.block0+i])
		_, v, ok := e.marginalBlock(d, e.cols.block0+i)
		if ok {
			out.Blockage = append(out.Blockage, Blockage{Machine: m, Factor: Value{V: f, SE: f * math.Sqrt(v)}})
		}
	}
	out.Zones = e.zonesNow()
	out.Due = e.forecast()
	e.tellDue(out.Due)
	return out
}

// marginalBlock returns what a day says of one drop's loss.
func (e *Estimator) marginalBlock(d *dayData, col int) (x, variance float64, ok bool) {
	i := d.info.Lambda.At(col, col)
	if i <= 0 {
		return 0, 0, false
	}
	prior := 1 / (blockPrior * blockPrior)
	return d.info.Eta.AtVec(col) / (i + prior), 1 / (i + prior), true
}

// zonesNow lists where the latest of the leaks may be: all the new leakage is there if it is the only one.
func (e *Estimator) zonesNow() []Zone {
	var last *change
	leaks := 0
	for _, c := range e.changes {
		if e.cols.isLeak(c.col) && c.value(1<<30) != 0 {
			last = c
			leaks++
		}
	}
	switch {
	case last == nil && !e.level.Known:
		return nil
	case last == nil:
		return []Zone{{Place: finding.Place{Part: "none", Probability: 1}, Leakage: e.leakNow()}}
	}
	size := e.leakNow()
	if leaks > 1 {
		size = Value{V: last.mean, SE: last.sd}
	}
	var out []Zone
	for _, p := range e.places(last) {
		out = append(out, Zone{Place: p, Leakage: size})
	}
	return out
}

// meanFlow returns the mean flow through the fan over a day's runs with a gate open.
func (e *Estimator) meanFlow(d *dayData) Value {
	var sum, hours float64
	flows := map[string]float64{}
	for i := range d.obs {
		o := &d.obs[i]
		if o.set.kind != steady.Running {
			continue
		}
		q, ok := flows[o.set.key]
		if !ok {
			st := &state{logFilter: d.filter[o.part].V, params: e.known(d.at), globals: e.cal.globals}
			v, _, _, err := e.viewer.at(o.set, st, o.air)
			if err != nil {
				continue
			}
			q = v.fanFlow
			flows[o.set.key] = q
		}
		h := (o.run.End - o.run.Start).Hours()
		sum += q * h
		hours += h
	}
	if hours == 0 {
		return Value{math.NaN(), math.NaN()}
	}
	return Value{V: sum / hours, SE: e.flowError() * sum / hours}
}

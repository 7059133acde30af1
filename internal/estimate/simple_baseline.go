package estimate

import (
	"math"
	"slices"
)

// The first days of a collector without a drawing tell the filter's resistance, how the fan does otherwise than its curve, which of
// the runs had every gate shut where nothing tells the gates, and the leakage of those.

// simpleBaseline gathers it.
func (e *Estimator) simpleBaseline() {
	if e.cal != nil || len(e.days) < baselineDays {
		return
	}
	l := e.lump
	l.learnShut(e.days) // near shut-off the fan's curve is too flat for what follows
	for _, d := range e.days {
		l.settle(d)
	}
	l.learnFan(e, e.days)
	l.learnShut(e.days)
	l.learnStill(e.days)
	l.learnLeast(e.days)
	var filter, leaks []Value
	for _, d := range e.days {
		l.settle(d)
		filter = append(filter, d.filter[0])
		if q, ok := e.closedLeak(d); ok {
			leaks = append(leaks, q)
		}
	}
	if len(leaks) > 0 {
		l.leakBase = pooled(leaks)
	}
	mean, square := 0.0, 0.0
	for _, v := range filter { // that it loads meanwhile is no error of its mean
		mean, square = mean+v.V/float64(len(filter)), square+v.SE*v.SE
	}
	last := e.days[len(e.days)-1]
	e.cal = &calibration{logFilter: mean, bias: map[string][]float64{}, misfit: 0,
		from: e.days[0].obs[0].run.At, to: last.obs[len(last.obs)-1].run.At}
	e.stand()
	e.filter.baseSE = math.Sqrt(square) / float64(len(filter))
}

// Where nothing tells the gates, a stretch with every gate shut is one with next to no air: no more than so much of the filter's clean
// flow, and so much less than the least with a gate open.
const (
	mostShut = 0.08
	shutGap  = 2.5
	shutEdge = 0.45 // of the least with a gate open: what is told as shut
)

// learnShut learns below which flow every gate is shut, from the flows of the first days: between the two that lie farthest apart. Without
// a stretch with next to no air, it is what would be one.
func (l *lump) learnShut(days []*dayData) {
	var flows []float64
	for _, d := range days {
		for _, r := range d.rough {
			if !r.told {
				flows = append(flows, l.through(r.drop, d.filter[0].V))
			}
		}
	}
	slices.Sort(flows)
	l.shut = 0
	if len(flows) == 0 {
		return
	}
	gap, open := shutGap, flows[0]
	for i, q := range flows[1:] {
		if before := flows[i]; before < mostShut*l.cleanFlow && q > gap*max(before, 0) {
			gap, open = q/max(before, 1e-6), q
		}
	}
	l.shut = min(shutEdge*open, 3*mostShut*l.cleanFlow)
	if open == flows[0] {
		l.shut = min(open/shutGap, mostShut*l.cleanFlow)
	}
}

// learnLeast learns what the two pressures read at least with a gate open.
func (l *lump) learnLeast(days []*dayData) {
	l.leastDrop, l.leastPull = math.Inf(1), math.Inf(1)
	for _, d := range days {
		for i := range d.rough {
			if r := &d.rough[i]; r.tells() {
				l.leastDrop = min(l.leastDrop, r.drop/math.Exp(d.filter[0].V))
				l.leastPull = min(l.leastPull, r.suction)
			}
		}
	}
}

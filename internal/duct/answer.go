package duct

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/shop"
)

// filterFirst tells that the air meets the filter before the fan.
func (w *work) filterFirst() bool { return w.m.collector.position == shop.FanAfterFilter }

// tell writes the solution into r in the words of the shop.
func (w *work) tell(r *Result, steps int) {
	m := w.m
	last := len(w.q) - 1
	_, flow, node := w.worst()
	vp, _ := w.dynamic(w.q[last], m.inletArea)
	power, _ := m.collector.fan.shaft(w.q[last], w.scene.air.Density, w.scene.speed)
	*r = Result{
		Converged: true, Iterations: steps, WorstResidual: flow, WorstAt: m.nodes[node],
		FanFlow: w.q[last], FanRise: w.chain.rise, FanPower: power, SpeedRatio: w.scene.speed,
		FilterDrop: w.chain.filter(), SeparatorLoss: w.chain.separator, InletStatic: w.p[m.inlet] - vp,
		Machines: slices.Grow(r.Machines[:0], len(m.machines)),
		Runs:     slices.Grow(r.Runs[:0], len(m.runs)),
		Leaks:    r.Leaks[:0],
		Sensors:  slices.Grow(r.Sensors[:0], len(m.taps)),
		state:    r.state,
	}
	w.tellMachines(r)
	for i := range m.runs {
		r.Runs = append(r.Runs, w.tellRun(&m.runs[i]))
	}
	w.tellLeaks(r)
	for i := range m.taps {
		t := &m.taps[i]
		r.Sensors = append(r.Sensors, SensorValue{Channel: t.channel, Value: w.read(t).value, Unit: t.unit})
	}
	w.warn(r)
}

func (w *work) tellMachines(r *Result) {
	w.flood()
	for i := range w.m.machines {
		parts := &w.m.machines[i]
		out := MachineFlow{Name: parts.machine.Name, Needs: parts.machine.Needs}
		for _, e := range parts.hoods {
			out.Flow += w.through(e)
			if e != parts.port {
				out.Flow += w.seeps(e)
			}
			out.Open = out.Open || w.open[e] && w.seen[w.m.to[e]]
		}
		r.Machines = append(r.Machines, out)
	}
}

// flood marks in w.seen every node that open edges join to the collector's inlet.
func (w *work) flood() {
	clear(w.seen)
	w.queue = append(w.queue[:0], w.m.inlet)
	w.seen[w.m.inlet] = true
	for len(w.queue) > 0 {
		node := w.queue[len(w.queue)-1]
		w.queue = w.queue[:len(w.queue)-1]
		for _, i := range w.m.touching[node] {
			for _, next := range [2]int32{w.m.from[i], w.m.to[i]} {
				if w.open[i] && int(next) != len(w.m.nodes) && !w.seen[next] {
					w.seen[next] = true
					w.queue = append(w.queue, next)
				}
			}
		}
	}
}

// through is the flow (m³/s) through an edge, past its seat where it is shut.
func (w *work) through(i int32) float64 {
	if w.open[i] {
		return w.q[i]
	}
	q := 0.0
	for k := range w.leaks {
		if w.leaks[k].edge == i {
			past, _ := w.leaks[k].law.flow(w.across(i))
			q += past
		}
	}
	return q
}

// seeps is what passes a shut edge that is hood, gate and run in one. It is next to nothing, but the run's other end
// and the balance have it.
func (w *work) seeps(i int32) float64 {
	if w.open[i] {
		return 0
	}
	return leastBridge * w.across(i)
}

func (w *work) tellRun(parts *runParts) RunFlow {
	q := w.q[parts.second] + w.seeps(parts.second)
	area := w.m.edges[parts.second].pipe.area
	var loss float64
	if w.open[parts.first] {
		loss = w.loss[parts.first]
	}
	if parts.second != parts.first {
		loss += w.loss[parts.second]
	}
	if parts.hood >= 0 {
		loss += w.loss[parts.hood]
	}
	return RunFlow{
		Name: parts.run.Name, Flow: q, Velocity: q / area, Loss: loss,
		StaticStart: w.static(parts.first, area, false), StaticEnd: w.static(parts.second, area, true),
	}
}

// tellLeaks sums the flows by part; parts that have no leak at all are left out.
func (w *work) tellLeaks(r *Result) {
	if len(w.leaks) == 0 {
		return
	}
	clear(w.sums)
	clear(w.has)
	for k := range w.leaks {
		l := &w.leaks[k]
		w.has[l.part] = true
		w.sums[l.part] += w.leaking(k)
	}
	r.Leaks = slices.Grow(r.Leaks, len(w.m.designed))
	for i, yes := range w.has {
		if yes {
			r.Leaks = append(r.Leaks, LeakFlow{Part: w.m.parts[i].name, Flow: w.sums[i]})
		}
	}
}

// leaking is the flow of one leak, 0 across an open gate.
func (w *work) leaking(k int) float64 {
	l := &w.leaks[k]
	var q float64
	switch {
	case l.spot >= 0:
		q, _ = w.powers[k].flow(l.law, w.suction(l.spot))
	case !w.open[l.edge]:
		q, _ = w.powers[k].flow(l.law, w.across(l.edge))
	}
	return q
}

// warn tells what a person should know about the answer.
func (w *work) warn(r *Result) {
	fan := w.m.collector.fan
	q := r.FanFlow / w.scene.speed
	switch {
	case q > fan.last.flow:
		r.Warnings = append(r.Warnings, fmt.Sprintf("the fan works beyond the last point of its curve (%.4g m³/s at the curve's speed); the curve is continued there", fan.last.flow))
	case q < fan.first.flow-1e-12:
		r.Warnings = append(r.Warnings, fmt.Sprintf("the fan works below the first point of its curve (%.4g m³/s at the curve's speed); the curve is continued there", fan.first.flow))
	}
	if _, slope := fan.at(math.Max(q, 0)); slope > 0 {
		r.Warnings = append(r.Warnings, "the fan works where its curve rises; there may be another working point")
	}
	if rating := w.m.shop.Rating; rating > 0 && -r.InletStatic > rating {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the suction at the collector's inlet is %.0f Pa, more than the %.0f Pa that the ducts are rated to bear", -r.InletStatic, rating))
	}
}

package duct

import "math"

// When a solve is done. Both are far below what a gauge can read, and far above rounding.
const (
	pressureTolerance = 1e-6  // Pa, of the loss of an edge against the pressure across it
	flowTolerance     = 1e-12 // m³/s, of the balance of a node
	relativeTolerance = 1e-12 // of the largest pressure or flow: rounding, where numbers are huge
)

// nearlyDone is the merit above which no solve is done: pressures are out by a ten-thousandth of the fan's top, shared
// among the edges, and to count the residuals would be a waste.
const nearlyDone = 1e-8

const (
	mostSteps     = 80   // Newton steps; a solve from the usual start takes 2 to 6
	leastFraction = 1e-6 // of a Newton step: below it the merit function has a flat spot
	enoughDescent = 1e-4 // of what the slope of the merit function promises (Armijo)
)

// newton goes from w.q and w.p to a solution, and tells how many steps it took and whether it got there. w is then
// evaluated at the last point.
func (w *work) newton() (steps int, ok bool) {
	merit := w.evaluate()
	for steps = 0; steps < mostSteps; steps++ {
		if merit < nearlyDone && w.done() {
			return steps, true
		}
		if !w.jacobian() {
			return steps, false
		}
		w.step(w.r, w.mass)
		if merit, ok = w.descend(merit); !ok {
			return steps, w.done()
		}
	}
	return steps, w.done()
}

func (w *work) done() bool {
	if math.IsNaN(w.merit) { // some residual is no number, which no comparison below would find
		return false
	}
	pressure, flow, _ := w.worst()
	if pressure <= pressureTolerance && flow <= flowTolerance {
		return true
	}
	high, most := largest(w.p), largest(w.q)
	return pressure <= pressureTolerance+relativeTolerance*high && flow <= flowTolerance+relativeTolerance*most
}

// largest is the size of the largest of some numbers.
func largest(x []float64) float64 {
	var most float64
	for _, x := range x {
		if x > most {
			most = x
		} else if -x > most {
			most = -x
		}
	}
	return most
}

// descend takes the step w.dq, w.dp, or as much of it as makes the merit function fall.
func (w *work) descend(merit float64) (float64, bool) {
	w.q, w.q1 = w.q1, w.q
	w.p, w.p1 = w.p1, w.p
	for fraction := 1.0; fraction >= leastFraction; {
		stride(w.q, w.q1, w.dq, fraction)
		stride(w.p, w.p1, w.dp, fraction)
		now := w.evaluate()
		if now <= (1-2*enoughDescent*fraction)*merit {
			return now, true
		}
		// The parabola through the merit, its slope -2·merit and the new value has its bottom here.
		bottom := fraction * fraction * merit / (now - merit + 2*fraction*merit)
		if !(bottom >= 0.1*fraction) {
			bottom = 0.1 * fraction
		}
		fraction = min(bottom, 0.5*fraction)
	}
	w.q, w.q1 = w.q1, w.q
	w.p, w.p1 = w.p1, w.p
	w.evaluate()
	return merit, false
}

// stride goes a fraction of a step from a place.
func stride(x, from, step []float64, fraction float64) {
	from, step = from[:len(x)], step[:len(x)]
	for i := range x {
		x[i] = from[i] + fraction*step[i]
	}
}

// jacobian fills and eliminates the matrix of the nodes at the slopes of the last evaluation.
func (w *work) jacobian() bool {
	w.invert()
	w.assemble()
	if w.matrix.factor() {
		return true
	}
	w.assemble()
	return w.matrix.factorDense()
}

// invert turns the slopes of losses by flows into slopes of flows by pressures; those of the two legs of a joint
// together, since each depends on both flows.
func (w *work) invert() {
	for _, i := range w.live {
		w.c[i] = 1 / (w.slope[i] + w.inertia)
	}
	for _, i := range w.shut {
		w.c[i] = w.bridge[i]
	}
	for k := range w.m.joints {
		j, l := &w.m.joints[k], &w.joint[k]
		a, b, c, d := w.slope[j.straight]+l.ss+w.inertia, l.sb, l.bs, w.slope[j.branch]+l.bb+w.inertia
		pair := &w.pair[k]
		switch {
		case w.open[j.straight] && w.open[j.branch]:
			over := 1 / (a*d - b*c)
			*pair = jointLoss{ss: d * over, sb: -b * over, bs: -c * over, bb: a * over}
		default: // what is shut stays what it is
			*pair = jointLoss{ss: w.c[j.straight], bb: w.c[j.branch]}
			if w.open[j.straight] {
				pair.ss = 1 / a
			}
			if w.open[j.branch] {
				pair.bb = 1 / d
			}
		}
		w.c[j.straight], w.c[j.branch] = pair.ss, pair.bb
	}
}

// assemble fills the matrix: row i says how much more leaves node i, leaks counted, when the pressures rise. What
// belongs to the room goes to a place that nobody reads.
func (w *work) assemble() {
	v := w.matrix.v
	clear(v)
	for i := range w.m.places.edge {
		at, c := &w.m.places.edge[i], w.c[i]
		v[at.from] += c
		v[at.to] += c
		v[at.fromTo] -= c
		v[at.toFrom] -= c
	}
	w.matrix.even = len(w.m.joints) == 0 && len(w.leaks) == 0
	for k := range w.m.places.joint {
		at, pair := &w.m.places.joint[k], &w.pair[k]
		for i, sign := range [4]float64{1, -1, -1, 1} {
			v[at.sb[i]] += sign * pair.sb
			v[at.bs[i]] += sign * pair.bs
		}
	}
	for i, s := range w.m.spots {
		v[s.node] += w.leakSlope[i]
		if s.carrier >= 0 {
			c := w.leakVelocity[i] * w.c[s.carrier]
			v[s.node] += c
			v[w.m.places.edge[s.carrier].toFrom] -= c
		}
	}
}

// step solves for the change dq, dp that takes away the residuals r (Pa, by edge) and mass (m³/s, by node), to first
// order: J·(dq, dp) = -(r, mass), J the exact Jacobian of the last evaluation.
func (w *work) step(r, mass []float64) {
	copy(w.dp, mass)
	for _, i := range w.shut {
		w.dq[i] = 0
	}
	from, to := w.m.from, w.m.to
	for _, i := range w.live {
		dq := w.c[i] * r[i]
		w.dq[i] = dq
		w.dp[from[i]] += dq
		w.dp[to[i]] -= dq
	}
	for k := range w.m.joints {
		j, pair := &w.m.joints[k], &w.pair[k]
		w.also(j.straight, pair.sb*r[j.branch])
		w.also(j.branch, pair.bs*r[j.straight])
	}
	for i, s := range w.m.spots {
		if s.carrier >= 0 {
			w.dp[s.node] -= w.leakVelocity[i] * w.dq[s.carrier]
		}
	}
	n := len(w.dp) - 1
	w.matrix.solve(w.dp[:n])
	w.dp[n] = 0 // the room
	w.flowsOfStep()
}

// also adds to the flow that an edge's residual asks for.
func (w *work) also(i int32, dq float64) {
	w.dq[i] += dq
	w.dp[w.m.from[i]] += dq
	w.dp[w.m.to[i]] -= dq
}

// flowsOfStep turns the change of pressures into that of flows; w.dq holds what the residuals alone ask for.
func (w *work) flowsOfStep() {
	for _, i := range w.live {
		w.dq[i] = w.c[i]*w.rise(i) - w.dq[i]
	}
	for k := range w.m.joints {
		j, pair := &w.m.joints[k], &w.pair[k]
		w.dq[j.straight] += pair.sb * w.rise(j.branch)
		w.dq[j.branch] += pair.bs * w.rise(j.straight)
	}
}

// rise is the change of the pressure across edge i.
func (w *work) rise(i int32) float64 { return w.dp[w.m.from[i]] - w.dp[w.m.to[i]] }

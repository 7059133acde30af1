package duct

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrNotConverged is in the error of a solve that found no state of balance. The network as described is then one for
// which the model has no answer; no result is given out.
var ErrNotConverged = errors.New("the duct model found no state of balance")

// Solve computes the state of every flow and pressure.
func (m *Model) Solve(st State) (*Result, error) { return m.Warm(st, nil) }

// Warm is Solve from an earlier result, which should be near; from nil or a result of another model it starts afresh.
// The answer is the same to within the tolerance of the solve.
func (m *Model) Warm(st State, from *Result) (*Result, error) {
	r := &Result{}
	if err := m.Renew(r, st, from); err != nil {
		return nil, err
	}
	return r, nil
}

// Renew is Warm into a result that is no longer needed, whose memory it uses: a model that has solved states like st
// before allocates nothing. r and from may be the same. After an error r holds nothing of use.
func (m *Model) Renew(r *Result, st State, from *Result) error {
	m = m.layout(&st)
	w := m.work.Get().(*work)
	defer m.work.Put(w)
	if err := w.prepare(&st); err != nil {
		return err
	}
	steps, ok := w.search(from)
	if !ok {
		pressure, flow, node := w.worst()
		return fmt.Errorf("%w after %d steps: %.3g Pa, and %.3g m³/s at %s, are left over", ErrNotConverged, steps, pressure, flow, m.nodes[node])
	}
	w.tell(r, steps)
	r.state.model = m
	r.state.st.become(&st)
	r.state.flow = append(r.state.flow[:0], w.q...)
	r.state.pressure = append(r.state.pressure[:0], w.p...)
	return nil
}

// forget takes the frictions and leaks back to where every solve begins, so that none depends on the one before it.
func (w *work) forget() {
	copy(w.friction, w.m.friction)
	w.chain.friction = point{}
	clear(w.powers)
}

// search tries starts until one leads to a solution: an earlier result, then a guess, then the guess with the fan far
// right on its curve, then letting the air settle, then growing the wyes from nothing.
func (w *work) search(from *Result) (steps int, ok bool) {
	w.forget()
	if from != nil && w.adopt(from) {
		w.fillShut()
		if steps, ok = w.newton(); ok {
			return steps, true
		}
	}
	for _, speed := range [...]float64{usualSpeed, 3 * usualSpeed, 0.3 * usualSpeed} {
		w.guess(speed)
		n, ok := w.newton()
		steps += n
		if ok {
			return steps, true
		}
	}
	for _, way := range [...]func(*work) (int, bool){(*work).settle, (*work).grow} {
		n, ok := way(w)
		steps += n
		if ok {
			return steps, true
		}
	}
	return steps, false
}

// fillShut gives the edges that have been opened since an earlier result a flow to start with.
func (w *work) fillShut() {
	for _, i := range w.live {
		if area := w.m.edges[i].pipe.area; w.q[i] == 0 && area > 0 && w.across(i) > 1 {
			w.q[i] = usualSpeed * area
		}
	}
	for _, i := range w.shut {
		w.q[i] = 0
	}
}

// guess sets the flows and pressures of the network whose every duct resists in proportion to its flow, as much as at a
// given speed of the air (m/s), and whose leaks are taken at 1000 Pa.
func (w *work) guess(speed float64) {
	const typical = 1000.0 // Pa
	last := len(w.m.edges) - 1
	clear(w.p)
	for i := range last {
		w.slope[i] = w.m.secant[i] * speed / usualSpeed * w.factor[i] * w.scene.air.Density
	}
	w.chain = w.m.collector.at(0, &w.scene, w.chain.friction)
	w.slope[last] = w.chain.rise / (0.8 * w.m.collector.fan.reach * w.scene.speed)
	clear(w.joint)
	clear(w.leakSlope)
	clear(w.leakVelocity)
	for i := range w.bridge {
		w.bridge[i] = leastBridge
	}
	for _, l := range w.leaks {
		q, _ := l.law.flow(typical)
		if l.spot >= 0 {
			w.leakSlope[l.spot] += q / typical
		} else {
			w.bridge[l.edge] += q / typical
		}
	}
	clear(w.r)
	clear(w.mass)
	w.r[last] = -w.chain.rise
	if !w.jacobian() {
		return
	}
	w.step(w.r, w.mass)
	scale := w.meet(speed)
	for i, q := range w.dq {
		w.q[i] = scale * q
	}
	for i, p := range w.dp {
		w.p[i] = scale * scale * p
	}
}

// meet is the factor on the flows of a guess at which the fan has the pressure that they ask for, when every loss goes
// with the square of its flow: by the power that all of them take.
func (w *work) meet(speed float64) float64 {
	last := len(w.dq) - 1
	flow := w.dq[last]
	if !(flow > 0) {
		return 1
	}
	power := 0.0
	for _, i := range w.live[:len(w.live)-1] { // without the collector
		if area := w.m.edges[i].pipe.area; area > 0 {
			size := abs(w.dq[i])
			power += w.slope[i] * size * size * size / (speed * area)
		}
	}
	scale := 1.0
	for range 4 {
		w.chain = w.m.collector.at(scale*flow, &w.scene, w.chain.friction)
		loss, slope := w.chain.loss()
		miss := loss + scale*scale*power/flow
		step := miss / (slope*flow + 2*scale*power/flow)
		if scale -= step; !(scale > 0.05 && scale < 20) {
			return 1
		}
		if abs(step) < 0.01 {
			break
		}
	}
	return scale
}

// settle lets the air in the ducts come to rest by itself: with an inertia in every duct, each step is one of implicit
// Euler in time, and the time step grows as the residual falls (switched evolution relaxation, Mulder and van Leer
// 1985). It does not get stuck where the merit function has a valley without a solution.
func (w *work) settle() (steps int, ok bool) {
	const longest = 400
	fan := w.m.collector.fan
	defer func() { w.inertia = 0 }()
	w.guess(usualSpeed)
	before := w.evaluate()
	for inertia := 1.0; steps < longest; steps++ {
		if w.done() {
			return steps, true
		}
		w.inertia = inertia * fan.top / fan.reach
		if !w.jacobian() {
			return steps, false
		}
		w.step(w.r, w.mass)
		for i := range w.q {
			w.q[i] += w.dq[i]
		}
		for i := range w.p {
			w.p[i] += w.dp[i]
		}
		now := w.evaluate()
		inertia *= math.Min(2, math.Max(0.2, math.Sqrt(now/before)))
		before = now
	}
	return steps, w.done()
}

// grow solves without the losses of the wyes, where there is a solution and Newton's method finds it, and then follows
// it as the wyes grow to their full strength.
func (w *work) grow() (steps int, ok bool) {
	w.scene.wye = 0
	w.guess(usualSpeed)
	if steps, ok = w.newton(); !ok {
		w.scene.wye = 1
		return steps, false
	}
	q, p := slices.Clone(w.q), slices.Clone(w.p)
	reached := 0.0
	for stride := 0.25; reached < 1; {
		w.scene.wye = min(1, reached+stride)
		n, ok := w.newton()
		steps += n
		if ok {
			reached = w.scene.wye
			copy(q, w.q)
			copy(p, w.p)
			stride *= 2
			continue
		}
		copy(w.q, q)
		copy(w.p, p)
		if stride /= 2; stride < 1e-3 {
			w.scene.wye = 1
			w.evaluate()
			return steps, false
		}
	}
	return steps, true
}

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
	r.state.friction = append(r.state.friction[:0], w.friction...)
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
		if w.moved(&from.state.st) {
			w.guessAnew()
		}
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

// moved tells that a gate or a selector is not as it was in an earlier state, and takes the flow from where it cannot
// pass any more.
func (w *work) moved(st *State) bool {
	moved := false
	for i, g := range w.m.shop.Gates {
		for _, e := range w.m.gates[i] {
			moved = moved || w.open[e] != st.Setting.Open[g.Name]
		}
	}
	for i, s := range w.m.shop.Selectors {
		for k, e := range w.m.ports[i] {
			moved = moved || w.open[e] != (st.Setting.Port[s.Name] == k+1)
		}
	}
	for _, i := range w.shut {
		w.q[i] = 0
	}
	return moved
}

// guess sets the flows and pressures of the network whose every duct resists in proportion to its flow, as much as at a
// given speed of the air (m/s), and whose leaks are taken at 1000 Pa.
func (w *work) guess(speed float64) {
	last := len(w.q) - 1
	for i := range last {
		w.q[i] = speed * w.m.edges[i].pipe.area
	}
	w.chain = w.m.collector.at(0, &w.scene, w.chain.friction)
	w.slope[last] = w.chain.rise / (0.8 * w.m.collector.fan.reach * w.scene.speed)
	w.r[last] = -w.chain.rise
	w.linear(1000)
	if w.q[last] > 0 && len(w.m.joints) == 0 { // what a wye does is not in the guess, and a better one is no better
		w.guessAnew()
	}
}

// guessAnew is guess from flows that are nearly right: every duct resists as much as at the flow that it had, one that had
// none as at dustSpeed, and the collector as along its tangent. Where air flowed already, Newton's method with held
// frictions would go halfway from there to that answer, and so does this.
func (w *work) guessAnew() {
	last := len(w.q) - 1
	w.chain = w.m.collector.at(w.q[last], &w.scene, w.chain.friction)
	loss, slope := w.chain.loss()
	if !(slope > 0) {
		return
	}
	w.slope[last], w.r[last] = slope, loss-slope*w.q[last]
	copy(w.q1, w.q)
	for i := range last {
		if area := w.m.edges[i].pipe.area; abs(w.q[i]) < 0.01*usualSpeed*area {
			w.q[i], w.q1[i] = dustSpeed*area, 0
		}
	}
	w.linear(max(100, -w.p[w.m.inlet]))
	for _, i := range w.live {
		if w.q1[i] != 0 {
			w.q[i] = (w.q[i] + w.q1[i]) / 2
		}
	}
}

// linear goes to the solution of the network whose every duct resists in proportion to its flow, as much as at the flow
// w.q, and whose leaks are taken at one suction (Pa); the residual and slope of the collector are given. It then moves
// all flows by one factor to where the fan meets them.
func (w *work) linear(suction float64) {
	last := int32(len(w.q) - 1)
	for _, i := range w.live {
		if i != last {
			w.slope[i] = w.elements[i].linear + w.square(i)*abs(w.q[i])
			w.r[i] = 0
		}
	}
	clear(w.joint)
	clear(w.leakSlope)
	clear(w.leakVelocity)
	for i := range w.bridge {
		w.bridge[i] = leastBridge
	}
	for _, l := range w.leaks {
		q, _ := l.law.flow(suction)
		if l.spot >= 0 {
			w.leakSlope[l.spot] += q / suction
		} else {
			w.bridge[l.edge] += q / suction
		}
	}
	clear(w.mass)
	clear(w.p)
	if !w.jacobian() { // start from standing air
		clear(w.q)
		return
	}
	w.step(w.r, w.mass)
	scale := w.meet()
	for i, q := range w.dq {
		w.q[i] = scale * q
	}
	for i, p := range w.dp {
		w.p[i] = scale * scale * p
	}
}

// square is the loss of an edge over the square of its flow, as far as its friction is known.
func (w *work) square(i int32) float64 {
	e := &w.elements[i]
	square := e.square
	if e.friction != 0 {
		re := e.reynolds / w.friction[i].x
		square += e.friction * re * re
	}
	return square
}

// meet is the factor on the flows w.dq at which the fan has the pressure that they ask for, when every loss goes with
// the square of its flow: by the power that all of them take.
func (w *work) meet() float64 {
	last := int32(len(w.dq) - 1)
	flow := w.dq[last]
	if !(flow > 0) {
		return 1
	}
	power := 0.0
	for _, i := range w.live {
		if size := abs(w.dq[i]); i != last && w.q[i] != 0 {
			power += w.slope[i] * size * size * size / abs(w.q[i])
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

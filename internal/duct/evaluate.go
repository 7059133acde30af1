package duct

// leastBridge (m³/(s Pa)) is what passes everything that is shut, beside its leaks: a ten-millionth of a litre per
// second at 1000 Pa. It keeps the pressure of a stretch between two shut gates defined.
const leastBridge = 1e-13

// evaluate computes every loss, residual and slope at w.q and w.p.
func (w *work) evaluate() {
	w.losses()
	clear(w.mass)
	for i := range w.m.edges {
		e := &w.m.edges[i]
		if !w.open[i] {
			w.q[i], w.r[i] = 0, 0
			continue
		}
		w.r[i] = w.loss[i] - w.across(e)
		w.pass(e, w.q[i])
	}
	for k := range w.m.joints {
		j := &w.m.joints[k]
		w.r[j.straight] += w.joint[k].s
		w.r[j.branch] += w.joint[k].b
	}
	w.seep()
}

// losses computes the losses of the edges and of the joints.
func (w *work) losses() {
	last := len(w.m.edges) - 1
	for i := range last {
		if !w.open[i] {
			continue
		}
		loss, slope, x := w.m.edges[i].pipe.loss(w.q[i], &w.scene, w.x[i])
		w.loss[i], w.slope[i], w.x[i] = loss*w.factor[i], slope*w.factor[i], x
	}
	w.chain = w.m.collector.at(w.q[last], &w.scene, w.chain.friction)
	w.loss[last], w.slope[last] = w.chain.loss()
	unit := w.scene.wye * w.scene.air.Density / 2
	for k := range w.m.joints {
		j := &w.m.joints[k]
		l := j.loss(w.q[j.straight], w.q[j.branch])
		w.joint[k] = jointLoss{s: l.s * unit, b: l.b * unit, ss: l.ss * unit, sb: l.sb * unit, bs: l.bs * unit, bb: l.bb * unit}
	}
}

// seep adds what comes in through leaks and passes what is shut.
func (w *work) seep() {
	clear(w.leakSlope)
	for i := range w.bridge {
		if w.open[i] {
			continue
		}
		w.bridge[i] = leastBridge
		w.pass(&w.m.edges[i], leastBridge*w.across(&w.m.edges[i]))
	}
	for k := range w.leaks {
		l := &w.leaks[k]
		if l.spot < 0 {
			if w.open[l.edge] {
				continue
			}
			q, slope := l.law.flow(w.across(&w.m.edges[l.edge]))
			w.bridge[l.edge] += slope
			w.pass(&w.m.edges[l.edge], q)
			continue
		}
		suction, _ := w.suction(l.spot)
		q, slope := l.law.flow(suction)
		w.leakSlope[l.spot] += slope
		w.mass[w.m.spots[l.spot].node] += q
	}
	for i := range w.leakSlope {
		_, slope := w.suction(int32(i))
		w.leakVelocity[i] = w.leakSlope[i] * slope
	}
}

// suction is the static suction (Pa) at a spot, with its slope by the flow of the edge that carries the air there. Where
// that flow runs backwards, out of the spot, it is the leak's own air, which has no velocity yet when it comes in: the
// total pressure drives it. (Were its velocity pressure to count, a hole wider than its duct would feed on itself.)
func (w *work) suction(i int32) (suction, slope float64) {
	s := w.m.spots[i]
	suction = -w.p[s.node]
	if s.carrier < 0 || !w.open[s.carrier] || w.q[s.carrier] <= 0 {
		return suction, 0
	}
	vp, slope := w.m.edges[s.carrier].pipe.velocityPressure(w.q[s.carrier], &w.scene)
	return suction + vp, slope
}

// across is the pressure across an edge, from start to end.
func (w *work) across(e *edge) float64 { return w.at(e.from) - w.at(e.to) }

func (w *work) at(node int32) float64 {
	if node == room {
		return 0
	}
	return w.p[node]
}

// pass moves a flow from the start of an edge to its end.
func (w *work) pass(e *edge, q float64) {
	if e.from != room {
		w.mass[e.from] -= q
	}
	if e.to != room {
		w.mass[e.to] += q
	}
}

// merit is the sum of the squares of all residuals, pressures over the fan's top and flows over its reach.
func (w *work) merit() float64 {
	fan := w.m.collector.fan
	var r, mass float64
	for _, x := range w.r {
		r += x * x
	}
	for _, x := range w.mass {
		mass += x * x
	}
	return r/(fan.top*fan.top) + mass/(fan.reach*fan.reach)
}

// worst is the largest residual of an edge (Pa) and of a node (m³/s), and that node.
func (w *work) worst() (pressure, flow float64, node int) {
	for _, x := range w.r {
		pressure = max(pressure, abs(x))
	}
	for i, x := range w.mass {
		if abs(x) > flow {
			flow, node = abs(x), i
		}
	}
	return pressure, flow, node
}

package duct

// leastBridge (m³/(s Pa)) is what passes everything that is shut, beside its leaks: a ten-millionth of a litre per
// second at 1000 Pa. It keeps the pressure of a stretch between two shut gates defined.
const leastBridge = 1e-13

// evaluate computes every loss, residual and slope at w.q and w.p, and gives the merit function: the sum of the squares
// of all residuals, pressures over the fan's top and flows over its reach.
func (w *work) evaluate() float64 {
	clear(w.mass)
	w.losses()
	for k := range w.m.joints {
		j := &w.m.joints[k]
		w.r[j.straight] += w.joint[k].s
		w.r[j.branch] += w.joint[k].b
	}
	w.seep()
	fan := w.m.collector.fan
	var r, mass float64
	for _, x := range w.r {
		r += x * x
	}
	w.mass[len(w.mass)-1] = 0 // the room
	for _, x := range w.mass {
		mass += x * x
	}
	w.merit = r/(fan.top*fan.top) + mass/(fan.reach*fan.reach)
	return w.merit
}

// element is a pipe in the state that is solved: its loss is square·Q|Q| + linear·Q + friction·g(Re).
type element struct {
	square, linear float64
	friction       float64 // Pa per unit of f·Re²
	reynolds       float64 // Re per m³/s
	rough          float64 // ε/(3.7 D)
	head           float64 // what of square is the hood's and the gate's
}

// losses computes the losses, residuals and slopes of the open edges and of the joints, and moves the flows.
func (w *work) losses() {
	last := int32(len(w.q) - 1)
	from, to := w.m.from, w.m.to
	for _, i := range w.live {
		q := w.q[i]
		var loss, slope float64
		if i != last {
			e := &w.elements[i]
			size := abs(q)
			loss = (e.square*size + e.linear) * q
			slope = 2*e.square*size + e.linear
			if e.friction != 0 {
				g, dg := w.friction[i].loss(e.reynolds*size, e.rough)
				slope += e.friction * e.reynolds * dg
				if q < 0 {
					g = -g
				}
				loss += e.friction * g
			}
		} else {
			w.chain = w.m.collector.at(q, &w.scene, w.chain.friction)
			loss, slope = w.chain.loss()
		}
		w.loss[i], w.slope[i] = loss, slope
		a, b := from[i], to[i]
		w.r[i] = loss - (w.p[a] - w.p[b])
		w.mass[a] -= q
		w.mass[b] += q
	}
	unit := w.scene.wye * w.scene.air.Density / 2
	for k := range w.m.joints {
		j := &w.m.joints[k]
		qs, qb := w.q[j.straight], w.q[j.branch]
		l := j.loss(qs, qb)
		j.addBeyond(&l, &w.beyond[k], qs, qb)
		w.joint[k] = jointLoss{s: l.s * unit, b: l.b * unit, ss: l.ss * unit, sb: l.sb * unit, bs: l.bs * unit, bb: l.bb * unit}
	}
}

// seep adds what comes in through leaks and passes what is shut.
func (w *work) seep() {
	clear(w.leakSlope)
	for _, i := range w.shut {
		w.q[i], w.r[i] = 0, 0
		w.bridge[i] = leastBridge
		w.pass(i, leastBridge*w.across(i))
	}
	for k := range w.leaks {
		l := &w.leaks[k]
		if l.spot < 0 {
			if w.open[l.edge] {
				continue
			}
			q, slope := w.powers[k].flow(l.law, w.across(l.edge))
			w.bridge[l.edge] += slope
			w.pass(l.edge, q)
			continue
		}
		q, slope := w.powers[k].flow(l.law, w.suction(l.spot))
		w.leakSlope[l.spot] += slope
		w.mass[w.m.spots[l.spot].node] += q
	}
	for i := range w.leakSlope {
		w.leakVelocity[i] = w.leakSlope[i] * w.suctionSlope(int32(i))
	}
}

// suction is the static suction (Pa) at a spot. Where the flow of the edge that carries the air there runs backwards,
// out of the spot, it is the leak's own air, which has no velocity yet when it comes in: the total pressure drives it.
// (Were its velocity pressure to count, a hole wider than its duct would feed on itself.)
func (w *work) suction(i int32) float64 {
	s := w.m.spots[i]
	suction := -w.p[s.node]
	if s.carrier >= 0 && w.q[s.carrier] > 0 {
		suction += w.scene.air.Density * w.m.spotSquare[i] * w.q[s.carrier] * w.q[s.carrier]
	}
	return suction
}

// suctionSlope is the slope of the suction at a spot by the carrier's flow.
func (w *work) suctionSlope(i int32) float64 {
	s := w.m.spots[i]
	if s.carrier >= 0 && w.q[s.carrier] > 0 {
		return 2 * w.scene.air.Density * w.m.spotSquare[i] * w.q[s.carrier]
	}
	return 0
}

// across is the pressure across an edge, from start to end.
func (w *work) across(i int32) float64 { return w.p[w.m.from[i]] - w.p[w.m.to[i]] }

// pass moves a flow from the start of an edge to its end.
func (w *work) pass(i int32, q float64) {
	w.mass[w.m.from[i]] -= q
	w.mass[w.m.to[i]] += q
}

// worst is the largest residual of an edge (Pa) and of a node (m³/s), and that node.
func (w *work) worst() (pressure, flow float64, node int) {
	pressure = largest(w.r)
	for i, x := range w.mass[:len(w.mass)-1] {
		if abs(x) > flow {
			flow, node = abs(x), i
		}
	}
	return pressure, flow, node
}

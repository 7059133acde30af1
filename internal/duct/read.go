package duct

import "math"

// reading is what a tap reads, with its derivatives.
type reading struct {
	value float64

	flow, pressure   float64 // by the flow of its edge and the pressure of its node
	collector, inlet float64 // by the flow through the collector and the pressure at its inlet

	density, losses, filter, speed float64 // by the logarithms of these, flows and pressures held
	past                           float64 // by what passes the filter's medium, likewise
	housing                        float64 // and by what its housing loses

	liveFlow float64 // by the flow of the live edge, for a tap in a shut leg of a wye
	live     int32
}

// read computes what a tap reads at the solution.
func (w *work) read(t *tap) reading {
	last := len(w.q) - 1
	q := w.q[last]
	c := &w.chain
	switch t.kind {
	case tapStatic:
		return w.readStatic(t)
	case tapVelocity:
		vp, slope := w.dynamic(w.q[t.edge], t.area)
		return reading{value: vp, flow: slope, density: vp}
	case tapInletStatic:
		vp, slope := w.dynamic(q, t.area)
		return reading{value: w.p[w.m.inlet] - vp, inlet: 1, collector: -slope, density: -vp}
	case tapInletVelocity:
		vp, slope := w.dynamic(q, t.area)
		return reading{value: vp, collector: slope, density: vp}
	case tapFanStatic:
		return w.readFanInlet(t)
	case tapFilter:
		return reading{value: c.filter(), collector: c.filterSlope(), density: c.housing + w.pastByDensity(), filter: c.byRatio, past: c.byPast, housing: c.byHousing}
	case tapSeparator:
		return reading{value: c.separator, collector: c.separatorSlope, density: c.separator}
	case tapPower:
		p, slope := w.m.collector.fan.metered(q, w.scene.air.Density, w.scene.speed)
		return reading{value: p, collector: slope, density: p, speed: 3*p - q*slope}
	case tapSpeed:
		hz := w.m.shop.Fan.Speed * w.scene.speed
		return reading{value: hz, speed: hz}
	case tapTemperature:
		return reading{value: w.scene.air.Temperature}
	case tapBarometer:
		return reading{value: w.scene.air.Pressure}
	case tapHumidity:
		return reading{value: w.scene.air.Humidity}
	default:
		return reading{value: math.NaN()}
	}
}

// readStatic reads a static tap at the start or the end of an edge: the total pressure where the edge begins, less what
// is lost up to the tap, less the velocity pressure. Behind a shut gate the air stands still.
func (w *work) readStatic(t *tap) reading {
	if !w.open[t.edge] {
		return w.readStill(t.edge)
	}
	q := w.q[t.edge]
	loss, slope := w.lostUpTo(t.edge, t.end)
	vp, vpSlope := w.dynamic(q, t.area)
	return reading{
		value: w.p[w.m.from[t.edge]] - loss - vp, pressure: 1, flow: -slope - vpSlope,
		density: -(q*slope - loss) - vp, losses: -loss,
	}
}

// readStill reads a tap behind a shut gate: the pressure where the edge ends, at a wye that in its volume.
func (w *work) readStill(edge int32) reading {
	out := reading{value: w.p[w.m.to[edge]], pressure: 1}
	if at := w.m.leg[edge]; at.joint >= 0 {
		j, l := &w.m.joints[at.joint], &w.joint[at.joint]
		if at.branch {
			out.value += l.b
			out.density, out.live, out.liveFlow = l.b, j.straight, l.bs
		} else {
			out.value += l.s
			out.density, out.live, out.liveFlow = l.s, j.branch, l.sb
		}
	}
	return out
}

// lostAtWye is what an edge that is the leg of a wye loses there (Pa), 0 for another.
func (w *work) lostAtWye(edge int32) float64 {
	at := w.m.leg[edge]
	switch {
	case at.joint < 0:
		return 0
	case at.branch:
		return w.joint[at.joint].b
	default:
		return w.joint[at.joint].s
	}
}

// static is the static pressure (Pa gauge) at the start or the end of an edge of an area (m²).
func (w *work) static(edge int32, area float64, end bool) float64 {
	if !w.open[edge] {
		return w.readStill(edge).value
	}
	q := w.q[edge]
	lost := w.loss[edge]
	if !end {
		lost = w.elements[edge].head * signedSquare(q)
	}
	return w.p[w.m.from[edge]] - lost - w.scene.air.Density/(2*area*area)*q*q
}

// lostUpTo is the loss of an open edge up to its end, or up to its start, behind the hood and the gate.
func (w *work) lostUpTo(edge int32, end bool) (loss, slope float64) {
	if end {
		return w.loss[edge], w.slope[edge]
	}
	head, q := w.elements[edge].head, w.q[edge]
	return head * signedSquare(q), 2 * head * abs(q)
}

func (w *work) readFanInlet(t *tap) reading {
	c := &w.chain
	vp, slope := w.dynamic(w.q[len(w.q)-1], t.area)
	out := reading{
		value: w.p[w.m.inlet] - c.separator - vp, inlet: 1,
		collector: -c.separatorSlope - slope, density: -c.separator - vp,
	}
	if w.filterFirst() {
		out.value -= c.filter()
		out.collector -= c.filterSlope()
		out.density -= c.housing + w.pastByDensity()
		out.filter, out.past, out.housing = -c.byRatio, -c.byPast, -c.byHousing
	}
	return out
}

// dynamic is the velocity pressure (Pa) of a flow in an area, with its slope.
func (w *work) dynamic(q, area float64) (vp, slope float64) {
	k := w.scene.air.Density / (2 * area * area)
	return k * q * q, 2 * k * q
}

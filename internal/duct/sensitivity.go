package duct

import (
	"errors"
	"fmt"
	"slices"
)

// Sensitivity is the change of every sensor in Result.Sensors by each parameter, [sensor][parameter], at the state
// that r solved. With F(x, θ) = 0 the balance of the network, x its flows and pressures and θ a parameter,
//
//	dx/dθ = -J⁻¹·∂F/∂θ,   ds/dθ = ∂s/∂x·dx/dθ + ∂s/∂θ
//
// with the exact Jacobian J at the solution, eliminated once for all parameters.
func (m *Model) Sensitivity(r *Result, ps []Param) ([][]float64, error) {
	w := m.work.Get().(*work)
	defer m.work.Put(w)
	if err := w.recall(r); err != nil {
		return nil, err
	}
	if !w.jacobian() {
		return nil, errors.New("the Jacobian of this state is singular: its readings have no finite sensitivity")
	}
	readings := make([]reading, len(m.taps))
	out := make([][]float64, len(m.taps))
	flat := make([]float64, len(m.taps)*len(ps))
	for i := range m.taps {
		readings[i] = w.read(&m.taps[i])
		out[i] = flat[i*len(ps) : (i+1)*len(ps)]
	}
	for k, p := range ps {
		if err := w.push(p); err != nil {
			return nil, err
		}
		w.step(w.r, w.mass)
		for i := range m.taps {
			out[i][k] = w.responds(&m.taps[i], &readings[i], p)
		}
	}
	return out, nil
}

// recall takes w back to the state that r solved, evaluated.
func (w *work) recall(r *Result) error {
	if r == nil || !w.m.made(r) {
		return errors.New("sensitivities need a result of this model")
	}
	if err := w.prepare(&r.state.st); err != nil {
		return err
	}
	w.forget()
	w.adopt(r)
	w.evaluate()
	return nil
}

// push sets w.r and w.mass to the derivatives of the residuals by a parameter, flows and pressures held.
func (w *work) push(p Param) error {
	clear(w.r)
	clear(w.mass)
	last := len(w.q) - 1
	q, c := w.q[last], &w.chain
	switch p.Kind {
	case LogFilter:
		w.r[last] = c.byRatio
	case Past:
		w.r[last] = c.byPast
	case HousingLoss:
		w.r[last] = c.byHousing
	case LogFanSpeed:
		w.r[last] = -(2*c.rise - q*c.riseSlope)
	case LogFanFactor:
		w.r[last] = -c.rise
	case LogThrottle:
		w.r[last] = -w.scene.fan * w.scene.throttle * w.m.collector.fan.shut * w.scene.air.Density * signedSquare(q)
	case LogDensity:
		w.pushDensity()
	case LogLoss:
		for i := range last {
			if w.open[i] {
				w.r[i] = w.loss[i]
			}
		}
	case LogLeakFactor:
		designed := len(w.m.designed) // they come first
		for k := range w.leaks[:designed] {
			w.pushLeak(&w.leaks[k], w.leaking(k))
		}
	case LogBlock:
		i := slices.IndexFunc(w.m.machines, func(x machineParts) bool { return x.machine.Name == p.Part })
		if i < 0 {
			return fmt.Errorf("sensitivity to the blockage of %q: there is no such machine", p.Part)
		}
		w.eachOfDrop(&w.m.machines[i], func(e int32) {
			if w.open[e] {
				w.r[e] = w.loss[e]
			}
		})
	case LogChoke:
		i := slices.IndexFunc(w.m.runs, func(x runParts) bool { return x.run.Name == p.Part })
		if i < 0 {
			return fmt.Errorf("sensitivity to the choking of %q: there is no such run", p.Part)
		}
		w.m.runs[i].each(func(e int32) {
			if w.open[e] {
				w.r[e] = w.loss[e]
			}
		})
	case Mixed, Stands:
		return w.pushBeyond(p)
	case LeakAt:
		return w.pushNewLeak(p.Part, p.Exponent)
	default:
		return fmt.Errorf("sensitivity to a parameter of unknown kind %d", p.Kind)
	}
	return nil
}

// pushDensity: a loss by friction and fittings at a held viscosity is μ²/ρ times a function of ρQ/μ, so that its
// derivative by log density is Q·dΔp/dQ - Δp; every other part goes with the density.
func (w *work) pushDensity() {
	last := len(w.q) - 1
	c := &w.chain
	for i := range last {
		if w.open[i] {
			w.r[i] = w.q[i]*w.slope[i] - w.loss[i]
		}
	}
	w.r[last] = c.separator + c.housing + w.pastByDensity() + w.q[last]*c.dischargeSlope - c.discharge - c.rise
	for k := range w.m.joints {
		w.r[w.m.joints[k].straight] += w.joint[k].s
		w.r[w.m.joints[k].branch] += w.joint[k].b
	}
	for i, s := range w.m.spots {
		vp := w.suction(int32(i)) + w.p[s.node]
		w.mass[s.node] += w.leakSlope[i] * vp
	}
}

// pastByDensity is the derivative of the medium's drop by log density: what passes a hole goes with 1/√ρ.
func (w *work) pastByDensity() float64 { return -w.chain.byPast * w.scene.past / w.scene.pastUnit / 2 }

func (w *work) pushLeak(l *placedLeak, q float64) {
	if l.spot >= 0 {
		w.mass[w.m.spots[l.spot].node] += q
	} else if !w.open[l.edge] {
		w.pass(l.edge, q)
	}
}

func (w *work) pushNewLeak(part string, exponent float64) error {
	if exponent == 0 {
		exponent = usualExponent
	}
	i := slices.IndexFunc(w.m.parts, func(x leakPart) bool { return x.name == part })
	if i < 0 {
		return w.unknown("leak part", []string{part}, w.m.LeakParts())
	}
	var few [8]placedLeak
	for _, l := range w.m.placed(few[:0], int32(i), atReference(1, w.m.reference, exponent)) {
		drive := 0.0
		if l.spot >= 0 {
			drive = w.suction(l.spot)
		} else {
			drive = w.across(l.edge)
		}
		q, _ := l.law.flow(drive)
		w.pushLeak(&l, q)
	}
	return nil
}

// responds is the change of a reading, once w.dq and w.dp hold the change of the state.
func (w *work) responds(t *tap, r *reading, p Param) float64 {
	d := r.collector*w.dq[len(w.q)-1] + r.inlet*w.dp[w.m.inlet]
	if t.kind == tapStatic {
		at := w.m.from[t.edge]
		if !w.open[t.edge] {
			at = w.m.to[t.edge]
		}
		d += r.pressure*w.dp[at] + r.liveFlow*w.dq[r.live]
	}
	if t.kind == tapStatic || t.kind == tapVelocity {
		d += r.flow * w.dq[t.edge]
	}
	switch p.Kind {
	case LogDensity:
		d += r.density
	case LogFilter:
		d += r.filter
	case Past:
		d += r.past
	case HousingLoss:
		d += r.housing
	case LogFanSpeed:
		d += r.speed
	case LogLoss:
		d += r.losses
	case LogBlock, LogChoke:
		if t.kind == tapStatic && w.r[t.edge] != 0 { // its edge belongs to what is blocked
			d += r.losses
		}
	}
	return d
}

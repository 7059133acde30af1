package plant

import (
	"ductward/internal/shop"
)

// Truth is what really happens in the plant, free of noise and of the fan's wander within the day.
type Truth struct {
	FanOn       bool
	FanFlow     float64 // m³/s
	FanRise     float64 // Pa
	FanPower    float64 // W; NaN: not known
	FanSpeed    float64 // ratio to the curve's
	FilterRatio float64 // resistance of the medium against clean
	FilterDrop  float64 // Pa
	InletStatic float64 // Pa at the collector's inlet
	Density     float64 // kg/m³
	Machines    []MachineFlow
	Runs        []RunFlow
	Leakage     float64 // m³/s of the fan's flow that no open machine gave: it entered by seams, seats and openings
	NewLeakage  float64 // m³/s at 1500 Pa of all leaks that SetLeak has opened
}

// MachineFlow is the air that one machine draws.
type MachineFlow struct {
	Name string
	Open bool
	Flow float64 // m³/s
}

// RunFlow is the air at the end of one run.
type RunFlow struct {
	Name                   string
	Flow, Velocity         float64 // m³/s, m/s
	StaticStart, StaticEnd float64 // Pa
}

// Truth returns what really happens. Its slices are the caller's.
func (p *Plant) Truth() (Truth, error) {
	p.dirty = p.dirty || p.filterRatio != p.state.ratio // no tangents here
	if err := p.Err(); err != nil {
		return Truth{}, err
	}
	t := p.state.truth
	t.Machines = append([]MachineFlow(nil), t.Machines...)
	t.Runs = append([]RunFlow(nil), t.Runs...)
	for _, l := range p.parts {
		t.NewLeakage += l.flow
	}
	return t, nil
}

// readTruth fills in the truth from the solver.
func (p *Plant) readTruth(t *Truth) {
	s, n := p.solver, p.net
	t.FanOn, t.FanSpeed, t.FilterRatio, t.Density = p.fanOn, p.speedNow(), p.filterRatio, p.rho
	q := s.q[n.fan]
	t.FanFlow, t.FanRise, t.FanPower, t.FilterDrop, t.InletStatic = q, 0, 0, 0, 0
	if p.fanOn {
		t.FanRise, _ = p.fan.rise(q, p.speedNow(), p.rho)
		t.FanPower = p.fan.shaft(q, p.speedNow(), p.rho)
		t.FilterDrop, _ = p.filter.drop(s.q[n.filter], p.filterRatio, p.rho, p.mu)
		t.InletStatic = p.inletStatic()
	}
	t.Machines, t.Runs, t.Leakage = t.Machines[:0], t.Runs[:0], q
	for i := range p.machines {
		m := &p.machines[i]
		f := MachineFlow{Name: m.name, Open: p.MachineOpen(m.name)}
		if p.joined(m) {
			f.Flow = s.q[m.entry]
		}
		if f.Open {
			t.Leakage -= f.Flow
		}
		t.Machines = append(t.Machines, f)
	}
	for i, r := range n.runs {
		f := RunFlow{Name: r.name, Flow: s.q[r.last], Velocity: s.q[r.last] / r.area}
		if p.fanOn {
			f.StaticStart, f.StaticEnd = p.static(i, shop.AtStart), p.static(i, shop.AtEnd)
		}
		t.Runs = append(t.Runs, f)
	}
}

package plant

import (
	"fmt"
	"strings"
)

// SetGate opens or shuts a gate.
func (p *Plant) SetGate(name string, open bool) error {
	i, ok := p.gateAt[name]
	if !ok {
		return fmt.Errorf("plant %q has no gate %q", p.c.Name, name)
	}
	if p.open[i] != open {
		p.open[i], p.dirty = open, true
		p.stir()
	}
	return nil
}

// stir draws how the hoods stand beside how they stand at their use.
func (p *Plant) stir() {
	if p.o.HoodStir == 0 {
		return
	}
	for i := range p.machines {
		p.machines[i].stir = lognormal(p.hoods, p.o.HoodStir)
	}
}

// GateOpen tells how a gate stands.
func (p *Plant) GateOpen(name string) bool {
	i, ok := p.gateAt[name]
	return ok && p.open[i]
}

// SetPort joins a selector's port to its outlet, 0 for none.
func (p *Plant) SetPort(selector string, port int) error {
	i, ok := p.selectAt[selector]
	if !ok || port < 0 || port > len(p.c.Selectors[i].Ports) {
		return fmt.Errorf("plant %q has no port %d of a selector %q", p.c.Name, port, selector)
	}
	if p.port[i] != port {
		p.port[i], p.dirty = port, true
	}
	return nil
}

// Port returns which port a selector joins.
func (p *Plant) Port(selector string) int {
	i, ok := p.selectAt[selector]
	if !ok {
		return 0
	}
	return p.port[i]
}

// SetFan starts or stops the fan. Readings follow over its run-up and run-down.
func (p *Plant) SetFan(on bool) {
	if p.fanOn != on {
		p.fanOn, p.dirty = on, true
	}
}

// FanOn tells whether the fan is switched on.
func (p *Plant) FanOn() bool { return p.fanOn }

// SetFanSpeed sets the fan's speed as ratio to that at which it runs: a belt that slips, a drive turned down.
func (p *Plant) SetFanSpeed(ratio float64) { p.speed, p.dirty = ratio, true }

// SetRestriction puts a restriction at the fan, on the side of it that no tap but the fan's own sees: what it takes in Pa at
// 1 m³/s of air of 1.2 kg/m³; 0 takes it away.
func (p *Plant) SetRestriction(pa float64) { p.fan.restriction, p.dirty = pa/referenceDensity, true }

// SetReversed lets the fan turn backwards, or as it should.
func (p *Plant) SetReversed(reversed bool) { p.fan.reversed, p.dirty = reversed, true }

// speedNow is the fan's mean speed today, as ratio to that of its curve.
func (p *Plant) speedNow() float64 { return p.c.Fan.RunningRatio() * p.speed * (1 + p.fanDay) }

// SetFilterRatio sets the resistance of the filter's medium against the clean filter of the description.
func (p *Plant) SetFilterRatio(ratio float64) {
	if ratio != p.filterRatio {
		p.filterRatio = ratio
		// A small move is followed along the tangent; see solution.
		p.dirty = p.dirty || p.state.filterFar(ratio)
	}
}

// SetHole lets a flow (m³/s of standard air at 1500 Pa) pass the filter's medium through a hole, 0 for none.
func (p *Plant) SetHole(flow float64) { p.filter.hole, p.dirty = flow, true }

// SetBlock multiplies the losses of a machine's drop, from its hood to the first junction.
func (p *Plant) SetBlock(machine string, factor float64) error {
	i, ok := p.machineAt[machine]
	if !ok {
		return fmt.Errorf("plant %q has no machine %q", p.c.Name, machine)
	}
	p.machines[i].block, p.dirty = factor, true
	return nil
}

// SetChips multiplies the losses of a machine's drop by what the chips take that it carries just now.
func (p *Plant) SetChips(machine string, factor float64) error {
	i, ok := p.machineAt[machine]
	if !ok {
		return fmt.Errorf("plant %q has no machine %q", p.c.Name, machine)
	}
	p.machines[i].chips, p.dirty = factor, true
	return nil
}

// SetRunBlock multiplies the losses of one run: a plug or a dent in the trunk.
func (p *Plant) SetRunBlock(run string, factor float64) error {
	i, ok := p.runAt[run]
	if !ok {
		return fmt.Errorf("plant %q has no run %q", p.c.Name, run)
	}
	p.runBlock[i], p.dirty = factor, true
	return nil
}

// SetAir sets the air in the shop.
func (p *Plant) SetAir(w Weather) {
	if w != p.air {
		p.air, p.rho, p.mu, p.dirty = w, w.density(), w.viscosity(), true
	}
}

// Air returns the air in the shop.
func (p *Plant) Air() Weather { return p.air }

// UseMachine draws how a machine's hood and hose stand for its next use, or, where they are set once a day, for this day.
func (p *Plant) UseMachine(name string) error {
	i, ok := p.machineAt[name]
	if !ok {
		return fmt.Errorf("plant %q has no machine %q", p.c.Name, name)
	}
	m := &p.machines[i]
	if p.o.HoodDaily && m.usedToday {
		return nil
	}
	m.usedToday = true
	if jitter := lognormal(p.hoods, p.o.HoodJitter); jitter != m.jitter {
		m.jitter, p.dirty = jitter, true
	}
	return nil
}

// SetLeak opens a leak that passes flow at 1500 Pa of suction (m³/s), in addition to what the plant leaks as built;
// zero closes it. Parts are "run:NAME" (seams along a run), "seat:GATE" (past the shut gate), "drop:GATE" (on the
// trunk side of the gate), "open-side:MACHINE" (on the machine's side of its gate), and in the collector "separator"
// (bin lid or seal, before the filter and the fan) and "clean-side" (between filter and fan).
func (p *Plant) SetLeak(part string, flow float64) error {
	e, seat, err := p.place(part)
	if err != nil {
		return err
	}
	where := &e.leak
	if seat {
		where = &e.seat
	}
	had := p.part(part)
	where.flow += flow - had.flow
	if where.flow < 1e-15 {
		where.flow = 0 // what rounding left of a leak that was closed
	}
	had.flow, p.dirty = flow, true
	return nil
}

// opened is a leak that was opened on top of what the plant leaks as built.
type opened struct {
	part string
	flow float64 // m³/s at leakPressure
}

// part returns the entry of an opened leak, a new one if need be.
func (p *Plant) part(name string) *opened {
	for i := range p.parts {
		if p.parts[i].part == name {
			return &p.parts[i]
		}
	}
	p.parts = append(p.parts, opened{part: name})
	return &p.parts[len(p.parts)-1]
}

// Leak returns what an opened leak was set to, m³/s at 1500 Pa.
func (p *Plant) Leak(part string) float64 {
	for _, l := range p.parts {
		if l.part == part {
			return l.flow
		}
	}
	return 0
}

// place finds the segment that a leak opens in, and whether it is past its seat.
func (p *Plant) place(part string) (e *segment, seat bool, err error) {
	kind, name, _ := strings.Cut(part, ":")
	n := p.net
	switch kind {
	case "run":
		if i, ok := p.runAt[name]; ok {
			return &n.segments[n.runs[i].last], false, nil
		}
	case "seat", "drop":
		if i, ok := p.gateAt[name]; ok {
			for k := range n.segments {
				if n.segments[k].gate == i {
					return &n.segments[k], kind == "seat", nil
				}
			}
		}
	case "open-side":
		if i, ok := p.machineAt[name]; ok {
			return &n.segments[p.openSide(&p.machines[i])], false, nil
		}
	case "separator", "clean-side":
		node := n.middle
		if kind == "clean-side" {
			node = n.clean
		}
		for _, k := range []int{n.filter, n.fan} {
			if n.segments[k].from == node {
				return &n.segments[k], false, nil
			}
		}
	}
	return nil, false, fmt.Errorf("plant %q has no part %q that could leak", p.c.Name, part)
}

// openSide returns the last segment on a machine's side of its gate, or its first one where it has no gate.
func (p *Plant) openSide(m *machine) int {
	last := m.entry
	for _, s := range m.drop {
		if p.net.segments[s].gate >= 0 {
			break
		}
		last = s
	}
	return last
}

// shut tells whether a segment's gate or port shuts it.
func (p *Plant) shut(e *segment) bool {
	if e.gate >= 0 && !p.open[e.gate] {
		return true
	}
	if e.selector < 0 {
		return false
	}
	joined := p.port[e.selector]
	return joined == 0 || e.port > 0 && joined != e.port
}

// joined tells whether every selector between a machine and the collector leads to it.
func (p *Plant) joined(m *machine) bool {
	for _, sp := range m.ports {
		if p.port[sp[0]] != sp[1] {
			return false
		}
	}
	return true
}

// MachineOpen tells whether air can reach the collector from a machine.
func (p *Plant) MachineOpen(name string) bool {
	i, ok := p.machineAt[name]
	if !ok {
		return false
	}
	m := &p.machines[i]
	for _, g := range m.gates {
		if !p.open[g] {
			return false
		}
	}
	return p.joined(m)
}

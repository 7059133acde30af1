package shop

// Collector finds a collector by its name, nil if there is none.
func (s *Shop) Collector(name string) *Collector {
	for _, c := range s.Collectors {
		if c.Name == name {
			return c
		}
	}
	return nil
}

// Run finds a run of the drawing, nil if there is none.
func (c *Collector) Run(name string) *Run {
	if c.Network == nil {
		return nil
	}
	for _, r := range c.Network.Runs {
		if r.Name == name {
			return r
		}
	}
	return nil
}

// Junction finds a junction of the drawing, nil if there is none.
func (c *Collector) Junction(name string) *Junction {
	if c.Network == nil {
		return nil
	}
	for _, j := range c.Network.Junctions {
		if j.Name == name {
			return j
		}
	}
	return nil
}

// Gate finds a gate, nil if there is none.
func (c *Collector) Gate(name string) *Gate {
	for _, g := range c.Gates {
		if g.Name == name {
			return g
		}
	}
	return nil
}

// Machine finds a machine, nil if there is none.
func (c *Collector) Machine(name string) *Machine {
	for _, m := range c.Machines {
		if m.Name == name {
			return m
		}
	}
	return nil
}

// Selector finds a selector, nil if there is none.
func (c *Collector) Selector(name string) *Selector {
	for _, s := range c.Selectors {
		if s.Name == name {
			return s
		}
	}
	return nil
}

// Sensor finds a sensor, nil if there is none.
func (c *Collector) Sensor(name string) *Sensor {
	for _, s := range c.Sensors {
		if s.Name == name {
			return s
		}
	}
	return nil
}

// PortOf tells which selector's hose serves a machine, and which of its ports the machine is, from 1. nil and 0: none.
func (c *Collector) PortOf(machine string) (*Selector, int) {
	for _, s := range c.Selectors {
		for i, p := range s.Ports {
			if s.Hose && p == machine {
				return s, i + 1
			}
		}
	}
	return nil, 0
}

// PathOf returns the runs that the air of a machine goes through, from its hood to the collector. Where the way parts
// (a ring main), it is the one with the fewest runs. It is nil without a drawing or for an unknown machine.
func (c *Collector) PathOf(machine string) []*Run {
	if c.Network == nil || c.Machine(machine) == nil {
		return nil
	}
	start := End{EndMachine, machine}
	if s, _ := c.PortOf(machine); s != nil {
		start = End{EndSelector, s.Name}
	}
	type step struct {
		run  *Run
		from *step
	}
	var queue []*step
	seen := map[*Run]bool{}
	for _, r := range c.Network.Runs {
		if r.From == start {
			queue = append(queue, &step{run: r})
			seen[r] = true
		}
	}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		if at.run.To.Kind == EndCollector {
			var path []*Run
			for ; at != nil; at = at.from {
				path = append([]*Run{at.run}, path...)
			}
			return path
		}
		for _, next := range c.after(at.run) {
			if !seen[next] {
				seen[next] = true
				queue = append(queue, &step{next, at})
			}
		}
	}
	return nil
}

// after returns the runs that a run leads into, in the order of the file.
func (c *Collector) after(r *Run) []*Run {
	var next []*Run
	for _, n := range c.Network.Runs {
		if r.To.Kind == EndRun && n.Name == r.To.Name ||
			(r.To.Kind == EndJunction || r.To.Kind == EndSelector) && n.From == r.To {
			next = append(next, n)
		}
	}
	return next
}

// MachineGates returns the gates between a machine and the collector, nearest to the machine first. Without a drawing
// it is the gate that is named after the machine, if there is one.
func (c *Collector) MachineGates(machine string) []string {
	if c.Network == nil {
		if g := c.namedAfter(machine); g != nil {
			return []string{g.Name}
		}
		return nil
	}
	var gates []string
	for _, r := range c.PathOf(machine) {
		if r.Gate != "" {
			gates = append(gates, r.Gate)
		}
	}
	return gates
}

// namedAfter returns the gate that bears a machine's name, or that with the word "gate" after it; nil if there is none.
func (c *Collector) namedAfter(machine string) *Gate {
	if c.Machine(machine) == nil {
		return nil
	}
	if g := c.Gate(machine); g != nil {
		return g
	}
	return c.Gate(machine + " gate")
}

// machinePorts returns the selector positions that a machine's path asks for.
func (c *Collector) machinePorts(machine string) map[string]int {
	ports := map[string]int{}
	if s, n := c.PortOf(machine); s != nil {
		ports[s.Name] = n
	}
	for _, r := range c.PathOf(machine) {
		if r.To.Kind != EndSelector {
			continue
		}
		for i, p := range c.Selector(r.To.Name).Ports {
			if p == r.Name {
				ports[r.To.Name] = i + 1
			}
		}
	}
	return ports
}

package shop

// Served counts the machines whose air goes through each run, by its name.
func (c *Collector) Served() map[string]int {
	out := map[string]int{}
	for _, m := range c.Machines {
		for _, r := range c.PathOf(m.Name) {
			out[r.Name]++
		}
	}
	return out
}

// LeaksApart tells whether a leak in a run shows otherwise than one in the drop or on the open side of a machine: several
// machines breathe through the run, or a tap of a duct's pressure lies between it and the drop of the one that does.
func (c *Collector) LeaksApart(run string) bool {
	if r := c.Run(run); r == nil || r.Gate != "" {
		return false
	}
	served := 0
	var path []*Run
	for _, m := range c.Machines {
		if p := c.PathOf(m.Name); indexRun(p, run) >= 0 {
			served++
			path = p
		}
	}
	if served != 1 {
		return served > 1
	}
	gate := -1
	at := indexRun(path, run)
	for i, r := range path[:at] {
		if r.Gate != "" {
			gate = i
		}
	}
	return gate >= 0 && c.tapBetween(path, gate, at)
}

// tapBetween tells whether a duct's pressure is read between the middles of two runs of a path.
func (c *Collector) tapBetween(path []*Run, from, to int) bool {
	for _, s := range c.Sensors {
		if s.Measures != StaticPressure && s.Measures != VelocityPressure {
			continue
		}
		i := indexRun(path, s.Run)
		if i > from && i < to || i == from && s.TapAt == AtEnd || i == to && s.TapAt == AtStart {
			return true
		}
	}
	return false
}

// indexRun returns where a run stands in a path, -1 where it does not.
func indexRun(path []*Run, name string) int {
	for i, r := range path {
		if r.Name == name {
			return i
		}
	}
	return -1
}

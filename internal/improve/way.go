package improve

import (
	"ductward/internal/shop"
)

// next lists the runs into which a run leads, in the order of the file.
func next(c *shop.Collector, r *shop.Run) []*shop.Run {
	var out []*shop.Run
	for _, n := range c.Network.Runs {
		joined := r.To.Kind == shop.EndJunction || r.To.Kind == shop.EndSelector
		if r.To.Kind == shop.EndRun && n.Name == r.To.Name || joined && n.From == r.To {
			out = append(out, n)
		}
	}
	return out
}

// drop is the branch of one machine, from its hood to the first place where another run joins.
type drop struct {
	machine string
	hose    []*shop.Run // flexible ones, by the way of the air
	pipe    []*shop.Run // the rest
	most    float64     // m, the diameter of what it leads into; 0: the collector
}

// drops lists the drops, those of a hose that serves several machines once.
func drops(c *shop.Collector) []drop {
	var out []drop
	seen := map[string]bool{}
	for _, m := range c.Machines {
		d := drop{machine: m.Name}
		known := false
		for _, r := range c.PathOf(m.Name) {
			known = known || seen[r.Name]
			seen[r.Name] = true
			if r.Flexible {
				d.hose = append(d.hose, r)
			} else {
				d.pipe = append(d.pipe, r)
			}
			if r.To.Kind == shop.EndRun {
				continue
			}
			if on := next(c, r); len(on) > 0 {
				d.most = on[0].Diameter
			}
			break
		}
		if !known && len(d.hose)+len(d.pipe) > 0 {
			out = append(out, d)
		}
	}
	return out
}

// stretch is a part of the trunk of one diameter, by the way of the air.
type stretch struct {
	runs []*shop.Run
	most float64 // m, the diameter of what it leads into; 0: the collector
}

func (s stretch) diameter() float64 { return s.runs[0].Diameter }

// stretches parts the trunk, which is all rigid runs that belong to no drop and begin at no stub.
func stretches(c *shop.Collector) []stretch {
	trunk := trunkRuns(c)
	at := map[*shop.Run]int{} // by its last run
	var out []stretch
	for _, r := range c.Network.Runs {
		if !trunk[r] {
			continue
		}
		last := r
		for steps := 0; steps < len(c.Network.Runs); steps++ { // a ring of runs has no last one
			on := goesOn(c, last)
			if on == nil || !trunk[on] || !alike(on.Diameter, last.Diameter) {
				break
			}
			last = on
		}
		i, known := at[last]
		if !known {
			i = len(out)
			at[last] = i
			s := stretch{}
			if on := next(c, last); len(on) > 0 {
				s.most = on[0].Diameter
			}
			out = append(out, s)
		}
		out[i].runs = append(out[i].runs, r)
	}
	return out
}

// goesOn is the run in which a stretch goes on: the only one behind it, unless it joins that from the side.
func goesOn(c *shop.Collector, r *shop.Run) *shop.Run {
	on := next(c, r)
	if len(on) != 1 {
		return nil
	}
	if r.To.Kind == shop.EndJunction {
		if j := c.Junction(r.To.Name); j != nil && j.Kind == shop.Wye && j.Branch == r.Name {
			return nil
		}
	}
	return on[0]
}

func trunkRuns(c *shop.Collector) map[*shop.Run]bool {
	trunk := map[*shop.Run]bool{}
	for _, r := range c.Network.Runs {
		trunk[r] = !r.Flexible && r.From.Kind != shop.EndStub
	}
	for _, d := range drops(c) {
		for _, r := range d.pipe {
			trunk[r] = false
		}
	}
	return trunk
}

// span names runs that follow each other.
func span(runs []*shop.Run) string {
	if len(runs) == 1 {
		return runs[0].Name
	}
	return runs[0].Name + " to " + runs[len(runs)-1].Name
}

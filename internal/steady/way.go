package steady

import "ductward/internal/shop"

// way is the way of the air from a machine that no gate shuts off: it is open where these selectors stand at these
// ports, always if there are none.
type way []Port

// open tells whether air comes this way.
func (w way) open(ports map[string]position) bool {
	for _, p := range w {
		if ports["selector/"+p.Selector].value != p.Port {
			return false
		}
	}
	return true
}

// ungated lists the ways that no gate shuts, so that "every gate shut" is not taken for "no machine open". A hose's end
// that is plugged onto nothing hangs open, so a hose shuts nothing off. Without a drawing only what hangs on a hose is
// judged, by a gate that bears the machine's name or the hose's: what else a gate serves is not known.
func ungated(c *shop.Collector) []way {
	var out []way
	for _, m := range c.Machines {
		if len(c.MachineGates(m.Name)) > 0 {
			continue
		}
		if c.PathOf(m.Name) != nil {
			out = append(out, valves(c, m.Name))
			continue
		}
		if s, port := c.PortOf(m.Name); s != nil && c.Gate(s.Name) == nil {
			out = append(out, way{{Selector: s.Name, Port: port}})
		}
	}
	return out
}

// valves lists the ports that the runs of a machine's way go through.
func valves(c *shop.Collector, machine string) way {
	w := way{}
	for _, r := range c.PathOf(machine) {
		if r.To.Kind != shop.EndSelector {
			continue
		}
		for i, p := range c.Selector(r.To.Name).Ports {
			if p == r.Name {
				w = append(w, Port{Selector: r.To.Name, Port: i + 1})
			}
		}
	}
	return w
}

package shop

import (
	"fmt"
	"slices"
)

// checkHoses checks the ports of the selectors. Without a drawing, g is nil and ports are machines.
func (p *parts) checkHoses(g *graph) {
	served := map[string]string{}
	for _, s := range p.Selectors {
		o := p.ports[s]
		if !s.Hose {
			p.checkPorts(g, s, o)
			continue
		}
		for _, m := range s.Ports {
			switch other, ok := served[m]; {
			case p.Collector.Machine(m) == nil && !p.broken:
				o.wrong(o.get("hose"), fmt.Sprintf("no machine is named %s", shown(m)), p.choose(m, p.machineNames()))
			case ok:
				o.wrong(o.get("hose"), fmt.Sprintf("machine %q is served by hose %q already", m, other), "let one hose serve each machine")
			case g != nil && len(g.out[End{EndMachine, m}]) > 0:
				o.wrong(o.get("hose"), fmt.Sprintf("machine %q has a run of its own, %q", m, g.out[End{EndMachine, m}][0].Name), "take it out of the hose's machines, or take out the run")
			}
			served[m] = s.Name
		}
		p.oneOutlet(g, s, o)
	}
}

func (p *parts) machineNames() []string {
	var known []string
	for _, m := range p.Machines {
		known = append(known, m.Name)
	}
	return known
}

// checkPorts checks that the ports of a switch-over piece are the runs that end at it.
func (p *parts) checkPorts(g *graph, s *Selector, o *object) {
	if g == nil {
		if len(s.Ports) > 0 {
			o.wrong(o.get("ports"), "its ports are runs, but there is no drawing", "write hose with machines, or draw the ducts")
		}
		return
	}
	ends := g.in[End{EndSelector, s.Name}]
	for _, name := range s.Ports {
		if !slices.ContainsFunc(ends, func(r *Run) bool { return r.Name == name }) && !p.broken {
			o.wrong(o.get("ports"), fmt.Sprintf("port %s is not a run that leads to it", shown(name)), fmt.Sprintf(`name a run that has "to: %s"`, s.Name))
		}
	}
	for _, r := range ends {
		if !slices.Contains(s.Ports, r.Name) && len(s.Ports) > 0 {
			ro := p.runs[r]
			ro.wrong(ro.get("to"), fmt.Sprintf("it leads to selector %q, but is none of its ports", s.Name), "add it to the selector's ports")
		}
	}
	p.oneOutlet(g, s, o)
}

func (p *parts) oneOutlet(g *graph, s *Selector, o *object) {
	if g == nil {
		return
	}
	out := g.out[End{EndSelector, s.Name}]
	switch {
	case p.broken:
	case len(out) == 0:
		o.wrong(o.v, "no run begins at it", fmt.Sprintf(`write "from: %s" in the run behind it`, s.Name))
	case len(out) > 1:
		o.wrong(o.v, fmt.Sprintf("runs %q and %q both begin at it", out[0].Name, out[1].Name), "let one run begin there, and part the way at a junction")
	}
}

package shop

import (
	"fmt"
	"slices"

	"ductward/internal/quantity"
)

// checkGates checks that each gate sits in exactly one run.
func (p *parts) checkGates() {
	sits := map[string]*Run{}
	var known []string
	for _, g := range p.Gates {
		known = append(known, g.Name)
	}
	for _, r := range p.Network.Runs {
		o := p.runs[r]
		switch first := sits[r.Gate]; {
		case r.Gate == "":
			continue
		case p.Collector.Gate(r.Gate) == nil && p.broken:
		case p.Collector.Gate(r.Gate) == nil && len(known) == 0:
			o.wrong(o.get("gate"), fmt.Sprintf("no gate is named %s", shown(r.Gate)), fmt.Sprintf("add \"- gate: %s\" under gates", cut(r.Gate)))
		case p.Collector.Gate(r.Gate) == nil:
			o.wrong(o.get("gate"), fmt.Sprintf("no gate is named %s", shown(r.Gate)), p.choose(r.Gate, known))
		case first != nil:
			o.wrong(o.get("gate"), fmt.Sprintf("gate %q sits in run %q already", r.Gate, first.Name), "name each slide by itself")
		}
		if g := p.Collector.Gate(r.Gate); g != nil && g.Bore > r.Diameter {
			o.wrong(o.get("gate"), fmt.Sprintf("the bore of gate %q, %s, is wider than the run's %s", g.Name, plain(quantity.Length, g.Bore, "mm"), plain(quantity.Length, r.Diameter, "mm")),
				"give the gate the free bore of its frame, or leave bore and kind out")
		}
		if sits[r.Gate] == nil {
			sits[r.Gate] = r
		}
	}
	for _, g := range p.Gates {
		if sits[g.Name] == nil && !p.broken && !p.meant[g.Name] {
			p.problem(g.Line, 1, fmt.Sprintf("gate %q: it sits in no run", g.Name), fmt.Sprintf(`write "gate: %s" in its run`, g.Name))
		}
		if p.Collector.Machine(g.Name) != nil && sits[g.Name] != nil && !p.reader.failed() && !slices.Contains(p.MachineGates(g.Name), g.Name) {
			p.problem(g.Line, 1, fmt.Sprintf("gate %q: it is not on the way of the machine of that name", g.Name), "rename one of them")
		}
	}
}

// checkHoods warns about hoods that lose nothing.
func (p *parts) checkHoods() {
	for _, r := range p.Network.Runs {
		if r.From.Kind == EndMachine && p.runs[r].v.pair("fittings") == nil {
			p.warn(r.Line, fmt.Sprintf("run %q: it has no fittings, so that the hood of %q loses nothing", r.Name, r.From.Name), `begin its fittings with an entry, such as "- entry: flanged", or with a measured loss`)
		}
	}
}

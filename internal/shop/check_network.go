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
	if out := g.out[End{EndSelector, s.Name}]; len(out) != 1 && !p.broken {
		o.wrong(o.v, fmt.Sprintf("%d runs begin at it", len(out)), fmt.Sprintf(`exactly one run has "from: %s"`, s.Name))
	}
}

// choose words what to write for an unknown name. A part that is likely to have been meant is not reported as unused.
func (p *parts) choose(name string, known []string) string {
	if n := nearest(name, known); n != "" {
		p.meant[n] = true
	}
	return choose(name, known)
}

// checkMachines checks that each hood and stub has exactly one run.
func (p *parts) checkMachines(g *graph) {
	for _, m := range p.Machines {
		s, _ := p.PortOf(m.Name)
		p.oneRun(g, End{EndMachine, m.Name}, "machine", m.Line, s != nil,
			fmt.Sprintf(`write "from: %s" in its run, or name it in the machines of a hose`, m.Name),
			fmt.Sprintf("name each hood as a machine of its own, such as %q", m.Name+" guard"))
	}
	for _, s := range p.Network.Stubs {
		p.oneRun(g, End{EndStub, s.Name}, "stub", s.Line, false, fmt.Sprintf(`write "from: %s" in the run that it caps`, s.Name), "name each capped end by itself")
	}
}

func (p *parts) oneRun(g *graph, e End, what string, line int, served bool, ifNone, ifMany string) {
	out := g.out[e]
	if len(out) == 0 && !served && !p.broken && !p.meant[e.Name] {
		p.problem(line, 1, fmt.Sprintf("%s %q: no run begins at it", what, e.Name), ifNone)
	}
	for _, r := range out[min(1, len(out)):] {
		o := p.runs[r]
		o.wrong(o.get("from"), fmt.Sprintf("%s %q begins run %q already", what, e.Name, out[0].Name), ifMany)
	}
}

// checkStarts checks that something flows into each run, once.
func (p *parts) checkStarts(g *graph) {
	for _, r := range p.Network.Runs {
		o, before := p.runs[r], g.in[End{EndRun, r.Name}]
		switch {
		case p.Collector.Run(r.Name) != r: // a second run of one name, reported as that
		case r.From.Kind == EndNone && len(before) == 0 && o.word("from") == "" && !p.broken && !p.meant[r.Name]:
			o.wrong(o.v, "nothing flows into it", fmt.Sprintf(`write "from:" with its machine, junction, selector or stub, or "to: %s" in the run before it`, r.Name))
		case r.From.Kind != EndNone && len(before) > 0:
			o.wrong(o.get("from"), fmt.Sprintf("it begins at %q, and run %q leads to it as well", r.From.Name, before[0].Name), "join them at a junction")
		case len(before) > 1:
			o.wrong(o.v, fmt.Sprintf("runs %q and %q both lead to it", before[0].Name, before[1].Name), "join them at a junction, and let this run begin there")
		}
	}
}

// checkJunctions checks the legs of each junction.
func (p *parts) checkJunctions(g *graph) {
	if p.broken || len(g.lost) > 0 {
		return // a leg may be among what is reported already
	}
	for _, j := range p.Network.Junctions {
		e, o := End{EndJunction, j.Name}, p.joints[j]
		in, out := g.in[e], g.out[e]
		switch {
		case len(in) == 0:
			o.wrong(o.v, "no run leads to it", fmt.Sprintf(`write "to: %s" in the runs that it joins`, j.Name))
		case len(out) == 0:
			o.wrong(o.v, "no run begins at it", fmt.Sprintf(`write "from: %s" in the run that goes on`, j.Name))
		case j.Kind == Wye:
			p.wyeLegs(o, j, in, out)
		case len(in)+len(out) == 2:
			p.warn(j.Line, fmt.Sprintf("%s: it joins only %q and %q", o.where, in[0].Name, out[0].Name), fmt.Sprintf(`write "to: %s" in run %q instead`, out[0].Name, in[0].Name))
		}
	}
}

// wyeLegs checks that a wye has its straight run, its branch and one run that leaves.
func (p *parts) wyeLegs(o *object, j *Junction, in, out []*Run) {
	leads := func(name string) bool {
		return slices.ContainsFunc(in, func(r *Run) bool { return r.Name == name })
	}
	var names []string
	for _, r := range in {
		names = append(names, r.Name)
	}
	for _, leg := range []struct{ key, name string }{{"straight", j.Straight}, {"branch", j.Branch}} {
		if leg.name != "" && !leads(leg.name) {
			o.wrong(o.get(leg.key), fmt.Sprintf("%s %s is not a run that leads to it", leg.key, shown(leg.name)), p.choose(leg.name, names))
		}
	}
	switch {
	case j.Straight != "" && j.Straight == j.Branch:
		o.wrong(o.get("branch"), fmt.Sprintf("straight and branch are both %q", j.Branch), "name the two runs that lead to it")
	case len(in) != 2:
		o.wrong(o.v, fmt.Sprintf("a wye joins two runs, and %d lead to it: %s", len(in), quoted(names)), `use one wye for each branch, or "kind: lossless"`)
	case len(out) != 1:
		o.wrong(o.v, fmt.Sprintf("one run leaves a wye, and %d begin at it", len(out)), `use "kind: lossless" where the way parts`)
	}
}

// checkLoops reports runs that lead into each other in a ring without any junction.
func (p *parts) checkLoops(g *graph) {
	done := map[*Run]bool{}
	for _, first := range p.Network.Runs {
		var way []*Run
		for r := first; r != nil && !done[r]; r = p.next(r) {
			if i := slices.Index(way, r); i >= 0 {
				o := p.runs[way[i]]
				var names []string
				for _, w := range way[i:] {
					names = append(names, w.Name)
				}
				o.wrong(o.v, fmt.Sprintf("runs %s lead into each other in a ring", quoted(names)), "let the last of them lead to a junction or to the collector")
				break
			}
			way = append(way, r)
		}
		for _, r := range way {
			done[r] = true
		}
	}
}

func (p *parts) next(r *Run) *Run {
	if r.To.Kind != EndRun {
		return nil
	}
	return p.Collector.Run(r.To.Name)
}

// checkReach reports runs from which no way leads to the collector.
func (p *parts) checkReach(g *graph) {
	if p.broken {
		return
	}
	if len(g.in[End{Kind: EndCollector}]) == 0 && len(g.lost) == 0 && len(p.Network.Runs) > 0 {
		p.object.wrong(p.drawing, "no run leads to the collector", `write "to: collector" in the last run of the trunk`)
		return
	}
	reached := map[*Run]bool{}
	for again := true; again; {
		again = false
		for _, r := range p.Network.Runs {
			if !reached[r] && (g.lost[r] || r.To.Kind == EndCollector || slices.ContainsFunc(p.after(r), func(n *Run) bool { return reached[n] })) {
				reached[r], again = true, true
			}
		}
	}
	for _, r := range p.Network.Runs {
		if o := p.runs[r]; !reached[r] && !p.deadEnd(g, r) {
			o.wrong(o.get("to"), fmt.Sprintf("it leads to %q, and from there no way goes on to the collector", r.To.Name), "draw the way to the collector")
		}
	}
}

// deadEnd tells whether what a run leads to is reported by itself: a junction without a way out, a ring.
func (p *parts) deadEnd(g *graph, r *Run) bool {
	e := r.To
	if e.Kind == EndJunction || e.Kind == EndSelector {
		return len(g.out[e]) == 0
	}
	way := map[*Run]bool{}
	for n := r; n != nil; n = p.next(n) {
		if way[n] {
			return true
		}
		way[n] = true
	}
	return false
}

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

package shop

import (
	"fmt"
	"slices"
)

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
		case r.From.Kind == EndNone && len(before) == 0 && o.get("from") == nil && !p.broken && !p.meant[r.Name]:
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
		case j.Kind == Wye || j.Kind == Splitter:
			p.wyeLegs(o, j, in, out)
		case len(in)+len(out) == 2:
			p.warn(j.Line, fmt.Sprintf("%s: it joins only %q and %q", o.where, in[0].Name, out[0].Name), fmt.Sprintf(`write "to: %s" in run %q instead`, out[0].Name, in[0].Name))
		}
	}
}

// wyeLegs checks that a wye has its straight run, its branch and one run that leaves, and a splitter its two legs.
func (p *parts) wyeLegs(o *object, j *Junction, in, out []*Run) {
	leads := func(name string) bool {
		return slices.ContainsFunc(in, func(r *Run) bool { return r.Name == name })
	}
	var names []string
	for _, r := range in {
		names = append(names, r.Name)
	}
	kind, straight, branch := "wye", "straight", "branch"
	if j.Kind == Splitter {
		kind, straight, branch = "splitter", "legs", "legs"
	}
	for _, leg := range []struct{ key, name string }{{straight, j.Straight}, {branch, j.Branch}} {
		if leg.name != "" && !leads(leg.name) {
			want := p.choose(leg.name, names)
			if r := p.Collector.Run(leg.name); r != nil && !slices.Contains(out, r) {
				want = fmt.Sprintf("name one of %s, or write \"to: %s\" in run %q", quoted(names), j.Name, leg.name)
			}
			o.wrong(o.get(leg.key), fmt.Sprintf("%s %s is not a run that leads to it", leg.key, shown(leg.name)), want)
		}
	}
	switch {
	case j.Straight != "" && j.Straight == j.Branch:
		o.wrong(o.get(branch), fmt.Sprintf("both its legs are %q", j.Branch), "name the two runs that lead to it")
	case len(in) != 2:
		o.wrong(o.v, fmt.Sprintf("a %s joins two runs, and %d lead to it: %s", kind, len(in), quoted(names)), `use one wye for each branch, or "kind: lossless"`)
	case len(out) != 1:
		o.wrong(o.v, fmt.Sprintf("one run leaves a %s, and %d begin at it", kind, len(out)), `use "kind: lossless" where the way parts`)
	}
}

package shop

import (
	"fmt"
	"math"
)

// check looks at the collector as a whole, when all names are known.
func (p *parts) check() {
	for _, s := range p.Sensors {
		p.tap(s)
	}
	p.saturates()
	if len(p.Sensors) == 0 && !p.has("sensors") && !p.object.void {
		p.warn(p.Line, fmt.Sprintf("%s: it has no sensors", p.where), "without sensors the air can be computed, and nothing can be told about what is built")
	}
	if p.Network == nil {
		p.checkHoses(nil)
		return
	}
	p.needs()
	g := p.resolve()
	p.checkHoses(g)
	p.checkMachines(g)
	p.checkStarts(g)
	p.checkJunctions(g)
	p.checkLoops(g)
	p.checkReach(g)
	p.checkGates()
	p.checkHoods()
	p.checkSense(g)
}

// needs reports what a drawing cannot be solved without.
func (p *parts) needs() {
	if p.curve == nil {
		p.object.wrong(p.drawing, "ducts are drawn, but the fan has no curve", "write fan with its curve, or leave ducts out")
	}
	if !p.clean {
		p.object.wrong(p.drawing, "ducts are drawn, but the filter has no clean drop", "write filter with \"clean: {drop: 300 Pa, flow: 3000 m3/h}\", or leave ducts out")
	}
	if p.clean && math.IsNaN(p.Filter.Limit) && p.get("filter").pair("limit") == nil {
		p.warn(p.Filter.Line, p.where+": the filter has no limit", "without it, only the air that the machines lack tells when to clean")
	}
}

// graph holds which runs meet at each end. Ends that could not be resolved are left out; lost tells where.
type graph struct {
	in   map[End][]*Run // runs that lead to it
	out  map[End][]*Run // runs that begin at it
	lost map[*Run]bool  // its To is not known, and that is reported
}

// resolve finds what each run begins and ends at.
func (p *parts) resolve() *graph {
	g := &graph{in: map[End][]*Run{}, out: map[End][]*Run{}, lost: map[*Run]bool{}}
	for _, r := range p.Network.Runs {
		o := p.runs[r]
		r.From, r.To = p.from(o), p.to(o, r)
		if r.From.Kind != EndNone {
			g.out[r.From] = append(g.out[r.From], r)
		}
		if r.To.Kind == EndNone {
			g.lost[r] = true
		} else {
			g.in[r.To] = append(g.in[r.To], r)
		}
	}
	return g
}

// end finds a name among all that a run can begin or end at.
func (p *parts) end(name string) End {
	switch c := p.Collector; {
	case c.Machine(name) != nil:
		return End{EndMachine, name}
	case c.Junction(name) != nil:
		return End{EndJunction, name}
	case c.Selector(name) != nil:
		return End{EndSelector, name}
	case c.Run(name) != nil:
		return End{EndRun, name}
	}
	for _, s := range p.Network.Stubs {
		if s.Name == name {
			return End{EndStub, name}
		}
	}
	return End{}
}

// from resolves what a run begins at; EndNone where it begins at the run before it.
func (p *parts) from(o *object) End {
	name := o.word("from")
	if name == "" {
		p.broken = p.broken || o.get("from") != nil
		return End{}
	}
	e := p.end(name)
	switch {
	case e.Kind == EndRun:
		o.wrong(o.get("from"), fmt.Sprintf("from %q is a run", name), fmt.Sprintf(`leave from out, and write "to: %s" in run %q`, o.word("run"), name))
		return End{}
	case e.Kind == EndNone && !p.broken:
		o.wrong(o.get("from"), fmt.Sprintf("from %s is not the name of a machine, junction, selector or stub", shown(name)), p.choose(name, p.beginnings()))
	}
	return e
}

// to resolves where a run leads; EndNone where that is not known.
func (p *parts) to(o *object, r *Run) End {
	name := o.word("to")
	if name == "collector" {
		return End{Kind: EndCollector}
	}
	e := p.end(name)
	switch {
	case name == "":
		return End{}
	case e.Kind == EndMachine || e.Kind == EndStub:
		o.wrong(o.get("to"), fmt.Sprintf("to %q is where air comes in, not where it goes", name), "turn the run round: it leads from the machine towards the collector")
		return End{}
	case e.Kind == EndRun && name == r.Name:
		o.wrong(o.get("to"), "it leads to itself", "write the run, junction or selector that comes next, or \"to: collector\"")
		return End{}
	case e.Kind == EndSelector && p.Collector.Selector(name).Hose:
		o.wrong(o.get("to"), fmt.Sprintf("to %q is a moved hose, where air comes in from machines", name), fmt.Sprintf("write \"from: %s\" in the run behind the hose", name))
		return End{}
	case e.Kind == EndNone && !p.broken:
		o.wrong(o.get("to"), fmt.Sprintf("to %s is not the name of a run, junction or selector", shown(name)), p.choose(name, p.endings()))
	}
	return e
}

func (p *parts) beginnings() []string {
	var known []string
	for _, m := range p.Machines {
		known = append(known, m.Name)
	}
	for _, j := range p.Network.Junctions {
		known = append(known, j.Name)
	}
	for _, s := range p.Selectors {
		known = append(known, s.Name)
	}
	for _, s := range p.Network.Stubs {
		known = append(known, s.Name)
	}
	return known
}

func (p *parts) endings() []string {
	var known []string
	for _, r := range p.Network.Runs {
		known = append(known, r.Name)
	}
	for _, j := range p.Network.Junctions {
		known = append(known, j.Name)
	}
	for _, s := range p.Selectors {
		if !s.Hose {
			known = append(known, s.Name)
		}
	}
	return append(known, "collector")
}

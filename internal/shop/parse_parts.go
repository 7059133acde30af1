package shop

import (
	"fmt"
	"math"
)

// machines reads the machines with the air that they need.
func (p *parts) machines() {
	for _, v := range p.entries("machines") {
		o := p.reader.object(v, "machine", "machine")
		m := &Machine{Name: o.name("machine", "bench saw"), Was: o.was(), Line: v.line}
		m.Needs = o.quantity("needs", someFlow, math.NaN())
		o.close()
		p.broken = p.broken || m.Name == ""
		if m.Name != "" {
			p.ends.add(o, o.get("machine"), "machine", m.Name, m.Was)
			p.Machines = append(p.Machines, m)
		}
	}
}

// gates reads the slides.
func (p *parts) gates() {
	for _, v := range p.entries("gates") {
		o := p.reader.object(v, "gate", "gate")
		g := &Gate{Name: o.name("gate", "bench saw gate"), Was: o.was(), Line: v.line}
		o.gateLoss(g)
		o.seat(g)
		g.Position = o.position("position", false)
		o.close()
		p.broken = p.broken || g.Name == ""
		if g.Name != "" {
			p.names.gates.add(o, o.get("gate"), "gate", g.Name, g.Was)
			p.Gates = append(p.Gates, g)
		}
	}
}

// selectors reads what joins one of several ports to its outlet.
func (p *parts) selectors() {
	for _, v := range p.entries("selectors") {
		o := p.reader.object(v, "selector", "selector")
		s := &Selector{Name: o.name("selector", "moved hose"), Was: o.was(), Line: v.line}
		p.readPorts(o, s)
		s.SeatLeak = o.quantity("seat_leak", leakFlow, 0)
		s.Position = o.position("position", true)
		o.pinEachPort(s)
		o.close()
		if s.Name == "" {
			p.broken = true
			continue
		}
		p.ends.add(o, o.get("selector"), "selector", s.Name, s.Was)
		p.names.selectors.add(o, o.get("selector"), "selector", s.Name, s.Was)
		p.Selectors = append(p.Selectors, s)
		p.ports[s] = o
	}
}

// pinEachPort reports position switches that are not one a port.
func (o *object) pinEachPort(s *Selector) {
	if s.Position == nil || len(s.Position.Pins) == 0 || len(s.Position.Pins) == len(s.Ports) {
		return
	}
	o.wrong(o.get("position"), fmt.Sprintf("position has %d pins, and there are %d ports", len(s.Position.Pins), len(s.Ports)), "write the pin of each port, in the order of the ports")
}

// readPorts reads the ports of a selector: the machines of a moved hose, or the runs that end at it.
func (p *parts) readPorts(o *object, s *Selector) {
	key := "ports"
	hose, ports := o.get("hose"), o.get("ports")
	switch {
	case hose != nil && ports != nil:
		o.wrong(ports, "hose and ports are both given", "keep hose, with machines, for a hose that is moved; keep ports, with runs, for a switch-over piece")
		return
	case hose != nil:
		s.Hose, key = true, "hose"
	case ports == nil:
		if !o.void {
			o.wrong(o.v, "hose or ports is missing", `write "hose: [MACHINE, MACHINE]" for a hose that is moved, or "ports: [RUN, RUN]" for a switch-over piece`)
		}
		return
	}
	seen := map[string]bool{}
	for _, item := range o.list(key) {
		switch {
		case item.shape != scalar:
			o.wrong(item, fmt.Sprintf("%s holds %s", key, item), "write names")
		case seen[item.text]:
			o.wrong(item, fmt.Sprintf("port %s is given twice", shown(item.text)), "name each port once")
		default:
			s.Ports = append(s.Ports, item.text)
		}
		seen[item.text] = true
	}
	if len(seen) == 1 {
		o.wrong(o.get(key), "it has only one port", "a selector joins one of at least two; otherwise let the run begin there itself")
	}
}

// ducts reads the drawing.
func (p *parts) ducts() {
	v := p.get("ducts")
	p.drawing = v
	if v == nil {
		return
	}
	o := p.reader.object(v, p.where+": ducts", "")
	p.Network = &Network{}
	material := defaultMaterial
	if i := o.oneOf("material", materialNames()); i >= 0 {
		material = Materials[i].Name
	}
	tight := o.tightness(Leakage{Class: Classes[0].Name, C: Classes[0].C, N: leakExponent})
	handbook := o.oneOf("wyes", []string{"momentum", "handbook"}) == 1
	for _, item := range o.entries("runs") {
		p.run(item, material, tight)
	}
	for _, item := range o.entries("junctions") {
		p.junction(item, handbook)
	}
	for _, item := range o.entries("stubs") {
		s := p.reader.object(item, "stub", "stub")
		name := s.name("stub", "spare by the door")
		s.close()
		p.broken = p.broken || name == ""
		if name != "" {
			p.ends.add(s, s.get("stub"), "stub", name, nil)
			p.Network.Stubs = append(p.Network.Stubs, &Stub{Name: name, Line: item.line})
		}
	}
	o.require("runs", `a list of runs, each beginning with "- run: NAME"`)
	o.close()
}

// run reads one run. Its ends are resolved later, when all names are known.
func (p *parts) run(v *value, material string, tight Leakage) {
	o := p.reader.object(v, "run", "run")
	r := &Run{Name: o.name("run", "saw drop"), Was: o.was(), Line: v.line}
	r.Diameter = o.quantity("diameter", ductDiameter, math.NaN())
	r.Length = o.quantity("length", ductLength, math.NaN())
	r.Roughness, r.Material, r.Flexible = o.wall(material)
	o.stretch(r)
	r.Gate = o.word("gate")
	r.Tightness = o.tightness(tight)
	r.Hole = o.quantity("hole", plainHole, 0)
	r.Rating = o.quantity("rating", somePressure, math.NaN())
	for _, f := range o.entries("fittings") {
		r.Fittings = append(r.Fittings, p.fitting(f, o, r)...)
	}
	o.word("from")
	o.word("to")
	o.require("diameter", "diameter: 120 mm")
	o.require("length", "the length of straight duct, such as \"length: 3.5 m\"")
	o.require("to", `the run, junction or selector that it leads to, or "to: collector"`)
	o.close()
	if r.Name == "" {
		p.broken = true
		return
	}
	p.ends.add(o, o.get("run"), "run", r.Name, r.Was)
	p.Network.Runs = append(p.Network.Runs, r)
	p.runs[r] = o
}

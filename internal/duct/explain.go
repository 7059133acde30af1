package duct

import (
	"fmt"
	"slices"
	"strings"

	"ductward/internal/shop"
)

// ElementKind says what costs pressure on the way of the air.
type ElementKind string

// The kinds of element that a way can hold.
const (
	HoodElement        ElementKind = "hood"        // the hood or duct end at which the air enters
	GateElement        ElementKind = "gate"        // an open gate
	StraightElement    ElementKind = "straight"    // the friction of a run of duct
	HoseElement        ElementKind = "hose"        // the friction of a run of hose
	ElbowElement       ElementKind = "elbow"       //
	ContractionElement ElementKind = "contraction" //
	ExpansionElement   ElementKind = "expansion"   //
	ScreenElement      ElementKind = "screen"      //
	FittingElement     ElementKind = "fitting"     // with a stated coefficient, or measured
	BlockageElement    ElementKind = "blockage"    // what a run costs beyond its drawing
	WyeElement         ElementKind = "wye"         // a wye's loss to the leg by which the air comes in; it may be a gain
	SelectorElement    ElementKind = "selector"    // an open port
	SeparatorElement   ElementKind = "separator"   //
	MediumElement      ElementKind = "filter"      // the viscous part of the filter
	HousingElement     ElementKind = "housing"     // the rest of the filter
	DischargeElement   ElementKind = "discharge"   // what the fan blows through
)

// Element is one thing on the way of the air that costs pressure.
type Element struct {
	Step        int // 1 is where the air enters
	Kind        ElementKind
	Name        string  // of the gate, junction, selector or separator that it is; "" where it has none of its own
	Run         string  // in which it is; "" in the collector
	What        string  // what it is, as "elbow 90°, gored in 5 pieces, r/D 1.5"
	Words       string  // the owner's own for it; "" where the file has none
	Line        int     // of the shop file; 0 where it has none of its own
	Flow        float64 // m³/s through it along the way
	Velocity    float64 // m/s in the duct on which Coefficient is stated; NaN: none
	Loss        float64 // Pa of total pressure; negative where a wye pulls the air along
	Coefficient float64 // Loss over the velocity pressure at Velocity; NaN: none
	Diameter    float64 // m, of straight duct and hose; else NaN
	Length      float64 // m, of straight duct and hose; else NaN
}

// Path is the way of the air from a machine through the ducts and the collector to the room. The losses of its elements
// add up to the fan's rise: the air comes from the room and goes back there. Where the way parts, as in a ring main, it
// follows the larger flow; the sum is the same on every way along which the air flows.
type Path struct {
	Machine  string
	Flow     float64   // m³/s where the air enters
	Rise     float64   // Pa, the fan's
	Inlet    float64   // Pa that a poor inlet takes from the fan's curve, off Rise already and no element
	Elements []Element // in the order in which the air meets them
}

// Loss is the sum of all elements (Pa).
func (p *Path) Loss() float64 {
	var sum float64
	for i := range p.Elements {
		sum += p.Elements[i].Loss
	}
	return sum
}

// WorstFirst lists the elements by what they cost, those of equal cost in the order of the way.
func (p *Path) WorstFirst() []Element {
	out := slices.Clone(p.Elements)
	slices.SortStableFunc(out, func(a, b Element) int {
		switch {
		case a.Loss > b.Loss:
			return -1
		case a.Loss < b.Loss:
			return 1
		}
		return 0
	})
	return out
}

// NotJoinedError says that no air goes from a machine to the collector.
type NotJoinedError struct {
	Machine string
	Shut    []string // the gates and selectors on its way that are shut
}

func (e *NotJoinedError) Error() string {
	if len(e.Shut) == 0 {
		return fmt.Sprintf("no air enters at machine %q, so that it has no way to explain", e.Machine)
	}
	is := "is"
	if len(e.Shut) > 1 {
		is = "are"
	}
	return fmt.Sprintf("machine %q is not joined to the collector: %s %s shut", e.Machine, strings.Join(e.Shut, " and "), is)
}

// Explain tells what each thing on the way from a machine to the room costs at the state that r solved. It returns a
// *NotJoinedError where the machine's way is shut.
func (m *Model) Explain(r *Result, machine string) (*Path, error) {
	i := slices.IndexFunc(m.machines, func(p machineParts) bool { return p.machine.Name == machine })
	if i < 0 {
		var have []string
		for _, p := range m.machines {
			have = append(have, p.machine.Name)
		}
		return nil, fmt.Errorf("there is no machine %q; there are %q", machine, have)
	}
	w, err := m.recalled(r)
	if err != nil {
		return nil, err
	}
	defer w.m.work.Put(w)
	way := w.way(&w.m.machines[i])
	if way == nil {
		return nil, &NotJoinedError{machine, m.shut(machine, r.state.st.Setting)}
	}
	p := &Path{Machine: machine, Flow: w.q[way[0].edge], Rise: w.chain.rise, Inlet: w.inletLoss()}
	for _, leg := range way {
		p.Elements = append(p.Elements, w.costs(leg)...)
	}
	p.Elements = oneEach(p.Elements)
	for k := range p.Elements {
		p.Elements[k].Step = k + 1
	}
	return p, nil
}

// shut names what is shut between a machine and the collector.
func (m *Model) shut(machine string, st shop.Setting) []string {
	var out []string
	selector := func(s *shop.Selector, port int) {
		if st.Port[s.Name] != port {
			out = append(out, fmt.Sprintf("port %d of selector %q", port, s.Name))
		}
	}
	if s, port := m.shop.PortOf(machine); s != nil {
		selector(s, port)
	}
	for _, r := range m.shop.PathOf(machine) {
		if r.Gate != "" && !st.Open[r.Gate] {
			out = append(out, fmt.Sprintf("gate %q", r.Gate))
		}
		if s := m.shop.Selector(r.To.Name); s != nil && r.To.Kind == shop.EndSelector {
			selector(s, slices.Index(s.Ports, r.Name)+1)
		}
	}
	return out
}

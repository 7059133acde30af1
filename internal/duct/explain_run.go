package duct

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/shop"
)

// costs lists what costs pressure in one leg of a way, in the order in which the air meets it.
func (w *work) costs(l leg) []Element {
	if int(l.edge) == len(w.m.edges)-1 {
		return w.collectorElements()
	}
	var out []Element
	if run := slices.IndexFunc(w.m.runs, func(p runParts) bool {
		return l.edge == p.hood || l.edge == p.first || l.edge == p.second
	}); run >= 0 {
		out = w.runElements(&w.m.runs[run], l)
	} else {
		out = w.portElements(l)
	}
	if l.sign < 0 {
		slices.Reverse(out)
	}
	return out
}

// runElements lists those of one edge of a run, from its start to its end. A hood that was measured is put before the
// gate, where it is, though the model's own order is another: the sum is the same.
func (w *work) runElements(parts *runParts, l leg) []Element {
	run := parts.run
	var out []Element
	entries, firsts, seconds := thirds(run)
	switch {
	case l.edge == parts.hood:
		firsts, seconds = nil, nil
	case l.edge == parts.first && parts.hood >= 0:
		entries = nil
	case l.edge != parts.first:
		entries, firsts = nil, nil
	}
	if l.edge != parts.second {
		seconds = nil
	}
	var head float64
	for _, i := range entries {
		out = append(out, w.fitting(run, i, l))
		head += out[len(out)-1].Coefficient
	}
	rest := slices.Concat(firsts, seconds)
	if len(firsts) > 0 && w.m.fittingKind(run, firsts[0]) == HoodElement {
		out, rest = append(out, w.fitting(run, firsts[0], l)), rest[1:]
	}
	if l.edge == parts.first && run.Gate != "" {
		out = append(out, w.gate(run, l, w.m.edges[l.edge].pipe.head-head))
	}
	if l.edge != parts.hood {
		out = append(out, w.straight(run, l))
	}
	for _, i := range rest {
		out = append(out, w.fitting(run, i, l))
	}
	out = append(out, w.blockage(l, run.Name, out)...)
	return append(out, w.wyeElements(run, l)...)
}

// fitting is fitting i of a run.
func (w *work) fitting(run *shop.Run, i int, l leg) Element {
	f := run.Fittings[i]
	k, _ := fittingLosses(run) // New has refused what has none
	e := w.local(l, k[i])
	e.Kind, e.Run, e.What, e.Words, e.Line = w.m.fittingKind(run, i), run.Name, describe(f, run.Diameter), f.What, f.Line
	if e.Kind == HoodElement && f.Kind != shop.Entry && f.What == "" {
		e.What = "hood, " + e.What
	}
	return e
}

// gate is the open gate of a run.
func (w *work) gate(run *shop.Run, l leg, k float64) Element {
	e := w.local(l, k)
	e.Kind, e.Name, e.Run = GateElement, run.Gate, run.Name
	if g := w.m.shop.Gate(run.Gate); g != nil {
		e.What, e.Line = describeGate(g), g.Line
	}
	return e
}

// thirds lists the fittings of a run by where halves puts them: at its start, in its first and in its second half.
func thirds(r *shop.Run) (entries, firsts, seconds []int) {
	var rest []int
	for i, f := range r.Fittings {
		if f.Kind == shop.Entry {
			entries = append(entries, i)
		} else {
			rest = append(rest, i)
		}
	}
	half := (len(rest) + 1) / 2
	return entries, rest[:half], rest[half:]
}

// local is an element with a loss coefficient in the duct of a leg.
func (w *work) local(l leg, k float64) Element {
	return w.inDuct(l, w.m.edges[l.edge].pipe.area, l.sign*w.scene.air.Density/2*k*signedSquare(w.q[l.edge]/w.m.edges[l.edge].pipe.area))
}

// inDuct is an element of a loss (Pa) in a leg, with its coefficient on the velocity pressure in an area.
func (w *work) inDuct(l leg, area, loss float64) Element {
	q := l.sign * w.q[l.edge]
	v := q / area
	return Element{
		Flow: q, Velocity: v, Loss: loss, Coefficient: loss / (w.scene.air.Density / 2 * v * v),
		Diameter: math.NaN(), Length: math.NaN(),
	}
}

// straight is the friction of one edge of a run.
func (w *work) straight(run *shop.Run, l leg) Element {
	bare := w.m.edges[l.edge].pipe
	bare.head, bare.rest = 0, 0
	near := w.friction[l.edge]
	loss, _ := bare.loss(w.q[l.edge], &w.scene, &near)
	e := w.inDuct(l, bare.area, l.sign*loss)
	e.Kind, e.Run, e.What, e.Line = StraightElement, run.Name, describeStraight(run), run.Line
	if run.Flexible {
		e.Kind = HoseElement
	}
	e.Diameter, e.Length = run.Diameter, run.Length
	return e
}

// blockage is what an edge loses beyond the elements of its drawing, where a state says that it does.
func (w *work) blockage(l leg, run string, drawn []Element) []Element {
	factor := w.factor[l.edge]
	if factor == 1 {
		return nil
	}
	var sum float64
	for i := range drawn {
		sum += drawn[i].Loss
	}
	e := w.inDuct(l, w.m.edges[l.edge].pipe.area, (factor-1)*sum)
	e.Kind, e.Run, e.What = BlockageElement, run, fmt.Sprintf("blockage: %.4g times the drawn loss in all", factor)
	return []Element{e}
}

// wyeElements is the wye at the end of a leg, its coefficient on the velocity pressure in the leg that leads away.
func (w *work) wyeElements(run *shop.Run, l leg) []Element {
	for k := range w.m.joints {
		j := &w.m.joints[k]
		loss := w.joint[k].s
		switch l.edge {
		case j.straight:
		case j.branch:
			loss = w.joint[k].b
		default:
			continue
		}
		e := w.inDuct(l, j.areaC, l.sign*loss)
		e.Velocity = abs(w.q[j.straight]+w.q[j.branch]) / j.areaC
		e.Coefficient = e.Loss / (w.scene.air.Density / 2 * e.Velocity * e.Velocity)
		e.Kind, e.Name, e.Run = WyeElement, j.name, run.Name
		if at := w.m.shop.Junction(j.name); at != nil {
			e.What, e.Line = describeJunction(at, l.edge == j.straight), at.Line
		}
		return []Element{e}
	}
	return nil
}

// portElements is the open port of a selector.
func (w *work) portElements(l leg) []Element {
	p := &w.m.edges[l.edge].pipe
	e := w.inDuct(l, p.area, l.sign*w.loss[l.edge])
	e.Kind, e.Name = SelectorElement, w.m.edges[l.edge].name
	for i, s := range w.m.shop.Selectors {
		if k := slices.Index(w.m.ports[i], l.edge); k >= 0 {
			e.What, e.Line = fmt.Sprintf("port %d, %s", k+1, s.Ports[k]), s.Line
		}
	}
	return []Element{e}
}

// oneEach adds up the friction, and the blockage, of the parts of a run: to its owner it is one duct.
func oneEach(list []Element) []Element {
	type of struct {
		kind ElementKind
		run  string
	}
	var out []Element
	at := map[of]int{}
	for _, e := range list {
		if e.Kind != StraightElement && e.Kind != HoseElement && e.Kind != BlockageElement {
			out = append(out, e)
			continue
		}
		i, met := at[of{e.Kind, e.Run}]
		if !met {
			at[of{e.Kind, e.Run}] = len(out)
			out = append(out, e)
			continue
		}
		e.Loss += out[i].Loss
		e.Coefficient += out[i].Coefficient
		out[i] = e
	}
	return out
}

// WyeLosses tells for every run, in the order of r.Runs, what the wye at its end costs its air (Pa): negative where the
// other leg pulls it along, 0 where there is no wye. RunFlow.Loss does not count it.
func (m *Model) WyeLosses(r *Result) ([]float64, error) {
	w, err := m.recalled(r)
	if err != nil {
		return nil, err
	}
	defer w.m.work.Put(w)
	out := make([]float64, len(m.runs))
	for i := range w.m.runs {
		for k := range w.m.joints {
			switch w.m.runs[i].second {
			case w.m.joints[k].straight:
				out[i] = w.joint[k].s
			case w.m.joints[k].branch:
				out[i] = w.joint[k].b
			}
		}
	}
	return out, nil
}

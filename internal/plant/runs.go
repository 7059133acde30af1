package plant

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// run adds the segment or segments of a run.
func (b *builder) run(i int, r *shop.Run) error {
	to, err := b.end(r)
	if err != nil {
		return err
	}
	whole := b.segment(i, r)
	whole.from, whole.to = b.n.starts[r.Name], to
	if r.From.Kind == shop.EndSelector && whole.from == room {
		whole.selector, whole.port = b.selects[r.From.Name], 0
	}
	if r.To.Kind == shop.EndSelector {
		whole.selector = b.selects[r.To.Name]
		whole.port = portOf(b.c.Selectors[whole.selector], r.Name)
	}
	if r.Gate == "" {
		b.add(i, r, whole)
		return nil
	}
	g, ok := b.gates[r.Gate]
	if !ok {
		return fmt.Errorf("run %q has a gate %q that is not among the collector's gates", r.Name, r.Gate)
	}
	if whole.from != room {
		b.gated(&whole, g)
		b.add(i, r, whole)
		return nil
	}
	hood, rest := b.split(r, whole)
	b.gated(&rest, g)
	b.add(i, r, hood, rest)
	return nil
}

// hoodSide is the share of a run's length that lies before its gate where the run begins at a machine.
const hoodSide = 0.3

// split cuts a run at its gate: entries and screens and the first part of the length before it, the rest behind.
func (b *builder) split(r *shop.Run, whole segment) (hood, rest segment) {
	hood, rest = whole, whole
	hood.reach, rest.reach = whole.reach*hoodSide, whole.reach*(1-hoodSide)
	hood.tightness.hole = 0 // it is behind the gate
	hood.surface, rest.surface = whole.surface*hoodSide, whole.surface*(1-hoodSide)
	hood.coefficient, hood.measured = sum(r, atHood)
	rest.coefficient, rest.measured = sum(r, func(k shop.FittingKind) bool { return !atHood(k) })
	hood.to = b.node("gate of run " + r.Name)
	rest.from = hood.to
	if hood.port == 0 { // a moved hose shuts its mouth, not the far side of its gate
		rest.selector = -1
	} else {
		hood.selector = -1
	}
	return hood, rest
}

// atHood tells whether a fitting of this kind belongs to the hood.
func atHood(k shop.FittingKind) bool { return k == shop.Entry || k == shop.Screen }

// gated puts a gate into a segment.
func (b *builder) gated(e *segment, gate int) {
	g := b.c.Gates[gate]
	e.gate, e.gateOpen = gate, openGate(g, e.diameter)
	e.seat = leak{flow: math.Max(0, g.SeatLeak), exponent: 0.5}
	if g.SeatN > 0 {
		e.seat.exponent = g.SeatN
	}
}

// portOf returns the number of the port that a run ends at, 0 if it is none.
func portOf(s *shop.Selector, run string) int {
	for i, p := range s.Ports {
		if p == run {
			return i + 1
		}
	}
	return 0
}

// segment returns a run as one segment, not yet connected.
func (b *builder) segment(i int, r *shop.Run) segment {
	e := segment{kind: ductSegment, run: i, diameter: r.Diameter, area: math.Pi / 4 * r.Diameter * r.Diameter,
		reach: r.Length * slack(r), rough: math.Pow(math.Max(0, r.Roughness)/r.Diameter/3.7, 1.11),
		gate: -1, selector: -1, wye: -1, factor: 1, hoodDrop: 1, surface: math.Pi * r.Diameter * r.Length,
		leak: leak{exponent: 0.5}, seat: leak{exponent: 0.5}}
	e.coefficient, e.measured = sum(r, func(shop.FittingKind) bool { return true })
	e.mouth, _ = sum(r, atHood)
	e.tightness = seamsOf(r.Tightness)
	if r.Hole > 0 {
		e.tightness.hole = hole(r.Hole)
	}
	return e
}

// seamsOf splits a drawing's leak law into holes and cracks; the rate is still per m².
func seamsOf(l shop.Leakage) seams {
	if !(l.C > 0) {
		return seams{}
	}
	n := l.N
	if !(n > 0) {
		n = SeamExponent
	}
	return seams{rate: l.C * math.Pow(seamPressure, n), holes: 0.5, crack: n}
}

// sum adds up the losses of those fittings of a run that the filter accepts.
func sum(r *shop.Run, accept func(shop.FittingKind) bool) (k, measured float64) {
	for i, f := range r.Fittings {
		if !accept(f.Kind) {
			continue
		}
		fk, fm := loss(f, r)
		k, measured = k+fk*company(r.Fittings, i), measured+fm
	}
	return k, measured
}

// add appends the segments of a run.
func (b *builder) add(i int, r *shop.Run, parts ...segment) {
	first := len(b.n.segments)
	for _, e := range parts {
		e.tightness.rate *= e.surface
		if e.selector >= 0 {
			b.port(&e)
		}
		b.n.segments = append(b.n.segments, e)
	}
	b.n.runs = append(b.n.runs, runPart{name: r.Name, first: first, last: len(b.n.segments) - 1, area: parts[0].area})
	if r.To.Kind == shop.EndCollector {
		b.n.inflow = parts[0].area
	}
}

// port gives a segment at a selector its seat: what leaks past the shut port.
func (b *builder) port(e *segment) {
	s := b.c.Selectors[e.selector]
	flow := math.Max(0, s.SeatLeak)
	if s.Hose {
		flow = 0 // the mouth of a hose that hangs on nothing is taken to be capped
	}
	if e.gate < 0 || flow < e.seat.flow {
		e.seat = leak{flow: flow, exponent: 0.5}
	}
}

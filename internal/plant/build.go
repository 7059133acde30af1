package plant

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// network is the plant as built: its segments and how they hang together.
type network struct {
	segments []segment
	names    []string // of nodes, for messages
	wyes     []wye
	runs     []runPart
	starts   map[string]int // node at the start of each run that something flows into
	inlet    int            // node at the collector's inlet
	filter   int            // segment
	fan      int            // segment
	sep      int            // segment; -1: none
	middle   int            // node between separator and whatever comes next
	clean    int            // node between filter and fan
	inflow   float64        // m², area of the duct at the collector's inlet
}

// runPart says which segments a run consists of: one, or two where its gate sits part of the way along.
type runPart struct {
	name        string
	first, last int
	area        float64
}

// wye is a junction where streams meet at equal static pressure.
type wye struct {
	node     int
	legs     []int   // segments that end in it
	out      int     // segment that leaves
	recovery float64 // share of velocity pressure regained where the mixed stream slows down
}

// builder keeps what is needed while a network is put together.
type builder struct {
	c        *shop.Collector
	n        *network
	juncs    map[string]int
	selects  map[string]int // selector name → index
	selNodes map[string]int
	gates    map[string]int
}

// build lays out the drawing's network, without any error of building.
func build(c *shop.Collector) (*network, error) {
	if c.Network == nil {
		return nil, fmt.Errorf("collector %q: a plant needs a drawing of the ducts; add runs to its description", c.Name)
	}
	b := &builder{c: c, n: &network{starts: map[string]int{}, sep: -1}, juncs: map[string]int{},
		selects: map[string]int{}, selNodes: map[string]int{}, gates: map[string]int{}}
	for i, g := range c.Gates {
		b.gates[g.Name] = i
	}
	b.nodes()
	for i, r := range c.Network.Runs {
		if err := b.run(i, r); err != nil {
			return nil, fmt.Errorf("collector %q: %w", c.Name, err)
		}
	}
	if err := b.junctions(); err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	b.collector()
	return b.n, b.check()
}

// node adds a node.
func (b *builder) node(name string) int {
	b.n.names = append(b.n.names, name)
	return len(b.n.names) - 1
}

// nodes makes the nodes of junctions, selectors and starts of runs, and the collector's inlet.
func (b *builder) nodes() {
	for _, j := range b.c.Network.Junctions {
		b.juncs[j.Name] = b.node("junction " + j.Name)
	}
	for i, s := range b.c.Selectors {
		b.selects[s.Name] = i
		if !s.Hose {
			b.selNodes[s.Name] = b.node("selector " + s.Name)
		}
	}
	for _, r := range b.c.Network.Runs {
		b.n.starts[r.Name] = b.start(r)
	}
	b.n.inlet = b.node("collector inlet")
}

// start returns the node at which a run begins.
func (b *builder) start(r *shop.Run) int {
	switch r.From.Kind {
	case shop.EndMachine:
		return room
	case shop.EndJunction:
		return b.juncs[r.From.Name]
	case shop.EndSelector:
		if n, ok := b.selNodes[r.From.Name]; ok {
			return n
		}
		return room // a moved hose: it breathes through the machine that it hangs on
	}
	return b.node("start of run " + r.Name)
}

// end returns the node at which a run ends.
func (b *builder) end(r *shop.Run) (int, error) {
	known := false
	n := room
	switch r.To.Kind {
	case shop.EndRun:
		n, known = b.n.starts[r.To.Name]
	case shop.EndJunction:
		n, known = b.juncs[r.To.Name]
	case shop.EndSelector:
		n, known = b.selNodes[r.To.Name]
	case shop.EndCollector:
		n, known = b.n.inlet, true
	}
	if !known || n == room {
		return 0, fmt.Errorf("run %q ends at %q, which is not the start of a run, a junction, a port or the collector", r.Name, r.To.Name)
	}
	return n, nil
}

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
	e.gate, e.gateOpen = gate, g.Open
	e.seat = leak{flow: math.Max(0, g.SeatLeak), exponent: 0.5}
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
	stretch := r.Stretch
	if !(stretch >= 1) {
		stretch = 1
	}
	e := segment{kind: ductSegment, run: i, diameter: r.Diameter, area: math.Pi / 4 * r.Diameter * r.Diameter,
		reach: r.Length * stretch, rough: math.Pow(math.Max(0, r.Roughness)/r.Diameter/3.7, 1.11),
		gate: -1, selector: -1, wye: -1, factor: 1, hoodDrop: 1, surface: math.Pi * r.Diameter * r.Length,
		leak: leak{exponent: 0.5}, seat: leak{exponent: 0.5}}
	e.coefficient, e.measured = sum(r, func(shop.FittingKind) bool { return true })
	e.mouth, _ = sum(r, atHood)
	e.tightness = seamsOf(r.Tightness)
	return e
}

// seamsOf splits a drawing's leak law into holes and cracks; the rate is still per m².
func seamsOf(l shop.Leakage) seams {
	if !(l.C > 0) {
		return seams{}
	}
	n := l.N
	if !(n > 0) {
		n = 0.65
	}
	return seams{rate: l.C * math.Pow(seamPressure, n), holes: 0.5, crack: n}
}

// sum adds up the losses of those fittings of a run that the filter accepts.
func sum(r *shop.Run, accept func(shop.FittingKind) bool) (k, measured float64) {
	for _, f := range r.Fittings {
		if !accept(f.Kind) {
			continue
		}
		fk, fm := loss(f, r.Diameter)
		k, measured = k+fk, measured+fm
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

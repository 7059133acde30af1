package plant

import (
	"fmt"

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

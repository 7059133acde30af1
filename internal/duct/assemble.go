package duct

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"ductward/internal/shop"
)

// New builds the model of a collector. It needs a drawing, and says what it lacks or what does not fit.
func New(c *shop.Collector) (*Model, error) {
	if c == nil || c.Network == nil {
		return nil, errors.New("the duct model needs a drawing of the ducts (network), and this collector has none")
	}
	if len(c.Network.Runs) == 0 {
		return nil, fmt.Errorf("collector %q: the network has no runs", c.Name)
	}
	col, err := newCollector(c)
	if err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	m, err := build(c, col, false)
	if err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	return m, m.pair(c, col)
}

// build makes the nodes and edges; sparse without those that only an added leak would need.
func build(c *shop.Collector, col *collector, sparse bool) (*Model, error) {
	b := newBuilder(c, col)
	b.sparse = sparse
	for _, step := range []func() error{b.join, b.runs, b.selectors, b.wyes, b.reach, b.machines, b.leaks, b.taps} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	b.arrange()
	b.m.startValues()
	m := b.m
	m.work.New = func() any { return newWork(m) }
	return m, nil
}

// builder turns a drawing into nodes and edges.
type builder struct {
	m      *Model
	sparse bool
	c      *shop.Collector
	index  map[string]int // run by name
	parent []int          // of the ends: which of them are one node
	name   []string       // of each end
	node   []int32        // by root of ends; numbered as they are first met

	junction, outlet map[string]int // ends
	portEnd          map[string][]int
	inletEnd         int
}

// roomEnd is the end that is the room.
const roomEnd = 0

func newBuilder(c *shop.Collector, col *collector) *builder {
	b := &builder{
		c: c, m: &Model{shop: c, collector: col, reference: c.Alarms.ReferenceSuction},
		index: map[string]int{}, junction: map[string]int{}, outlet: map[string]int{}, portEnd: map[string][]int{},
	}
	if !(b.m.reference > 0) {
		b.m.reference = 1500
	}
	b.end("the room")
	b.inletEnd = b.end("the collector's inlet")
	for _, j := range c.Network.Junctions {
		b.junction[j.Name] = b.end(fmt.Sprintf("junction %q", j.Name))
	}
	for _, s := range c.Selectors {
		b.outlet[s.Name] = b.end(fmt.Sprintf("the outlet of selector %q", s.Name))
		for range s.Ports {
			b.portEnd[s.Name] = append(b.portEnd[s.Name], b.end(fmt.Sprintf("a port of selector %q", s.Name)))
		}
	}
	return b
}

func (b *builder) end(name string) int {
	b.parent = append(b.parent, len(b.parent))
	b.name = append(b.name, name)
	return len(b.parent) - 1
}

func (b *builder) root(end int) int {
	for b.parent[end] != end {
		end = b.parent[end]
	}
	return end
}

// unite makes two ends one node; the name of the first one stays.
func (b *builder) unite(keep, end int) { b.parent[b.root(end)] = b.root(keep) }

func (b *builder) startOf(run int) int { return b.firstRunEnd() + 2*run }
func (b *builder) endOf(run int) int   { return b.firstRunEnd() + 2*run + 1 }
func (b *builder) firstRunEnd() int    { return len(b.parent) - 2*len(b.c.Network.Runs) }

// join finds which ends of runs meet.
func (b *builder) join() error {
	for i, r := range b.c.Network.Runs {
		if _, twice := b.index[r.Name]; twice {
			return fmt.Errorf("two runs are named %q", r.Name)
		}
		b.index[r.Name] = i
		b.end(fmt.Sprintf("the start of run %q", r.Name))
		b.end(fmt.Sprintf("the end of run %q", r.Name))
	}
	for i, r := range b.c.Network.Runs {
		if !(r.Diameter > 0) || !(r.Length >= 0) || !(r.Roughness >= 0) || math.IsInf(r.Diameter+r.Length, 0) {
			return fmt.Errorf("run %q: diameter %g m, length %g m, roughness %g m; they must be positive numbers", r.Name, r.Diameter, r.Length, r.Roughness)
		}
		if err := b.joinStart(i, r); err != nil {
			return err
		}
		if err := b.joinEnd(i, r); err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) joinStart(i int, r *shop.Run) error {
	switch r.From.Kind {
	case shop.EndMachine:
		b.unite(roomEnd, b.startOf(i))
	case shop.EndJunction:
		return b.joinNamed(b.junction, "junction", r.From.Name, r.Name, b.startOf(i))
	case shop.EndSelector:
		return b.joinNamed(b.outlet, "selector", r.From.Name, r.Name, b.startOf(i))
	case shop.EndRun:
		k, ok := b.index[r.From.Name]
		if !ok {
			return fmt.Errorf("run %q begins at run %q, which there is none of", r.Name, r.From.Name)
		}
		b.unite(b.endOf(k), b.startOf(i))
	case shop.EndCollector:
		return fmt.Errorf("run %q begins at the collector; turn it round: air flows towards the collector", r.Name)
	}
	return nil // a stub, or the end of the run that names this one
}

func (b *builder) joinEnd(i int, r *shop.Run) error {
	switch r.To.Kind {
	case shop.EndCollector:
		b.unite(b.inletEnd, b.endOf(i))
		b.m.inletArea = math.Max(b.m.inletArea, circle(r.Diameter))
	case shop.EndJunction:
		return b.joinNamed(b.junction, "junction", r.To.Name, r.Name, b.endOf(i))
	case shop.EndRun:
		k, ok := b.index[r.To.Name]
		if !ok {
			return fmt.Errorf("run %q ends at run %q, which there is none of", r.Name, r.To.Name)
		}
		b.unite(b.endOf(i), b.startOf(k))
	case shop.EndSelector:
		ends := b.portEnd[r.To.Name]
		s := find(b.c.Selectors, func(s *shop.Selector) bool { return s.Name == r.To.Name })
		if s == nil || !slices.Contains(s.Ports, r.Name) {
			return fmt.Errorf("run %q ends at selector %q, which has no port for it", r.Name, r.To.Name)
		}
		b.unite(ends[slices.Index(s.Ports, r.Name)], b.endOf(i))
	case shop.EndMachine:
		return fmt.Errorf("run %q ends at machine %q; turn it round: air flows from the machine", r.Name, r.To.Name)
	}
	return nil
}

func (b *builder) joinNamed(ends map[string]int, kind, name, run string, end int) error {
	at, ok := ends[name]
	if !ok {
		return fmt.Errorf("run %q meets %s %q, which there is none of", run, kind, name)
	}
	b.unite(at, end)
	return nil
}

// nodeAt is the number of the node of an end.
func (b *builder) nodeAt(end int) int32 {
	root := b.root(end)
	if root == b.root(roomEnd) {
		return room
	}
	for len(b.node) <= root {
		b.node = append(b.node, room)
	}
	if b.node[root] == room {
		b.node[root] = b.newNode(b.name[root])
	}
	return b.node[root]
}

func (b *builder) newNode(name string) int32 {
	b.m.nodes = append(b.m.nodes, name)
	return int32(len(b.m.nodes) - 1)
}

func (b *builder) newEdge(from, to int32, p pipe, name string) int32 {
	b.m.edges = append(b.m.edges, edge{from: from, to: to, pipe: p, name: name})
	return int32(len(b.m.edges) - 1)
}

// find is the first of a list that fits, or nil.
func find[T any](list []*T, fits func(*T) bool) *T {
	for _, x := range list {
		if fits(x) {
			return x
		}
	}
	return nil
}

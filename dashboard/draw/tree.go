package draw

import (
	"ductward/internal/shop"
)

// leafKind says what stands at the far end of a limb.
type leafKind int

const (
	machineLeaf leafKind = iota
	stubLeaf             // a capped end
	ringLeaf             // where a ring has been cut open
	bareLeaf             // an end of which the drawing says nothing
)

// leaf is the far end of a limb.
type leaf struct {
	kind leafKind
	name string
	port int    // of a selector that the machine is a port of; 0: none
	from string // that selector
}

// limb is a stretch of duct between two places where ducts join, with what feeds it.
type limb struct {
	runs []*shop.Run // in the order in which the air passes; empty: no drawing, or a hose from a selector's port
	leaf *leaf       // nil: kids feed it
	kids []*limb     // the straight one first
	at   string      // name of the junction or selector where the kids join

	// filled in by measure
	need, flow float64 // m³/s; flow NaN: not known
	open       bool
	// filled in by arrange
	block          block
	stack          []*limb // the kids as they lie, from top to foot
	x0, y0, x1, y1 float64
	bend           float64 // the length over which it goes from y0 to y1
	width          float64 // of the channel
	fill           float64 // of the air in it
}

// builder walks the drawing from the collector upstream.
type builder struct {
	c    *shop.Collector
	used map[string]bool // runs that are in the tree
}

// grow returns the limbs that end at the collector. Without a drawing every machine is a limb of its own.
func grow(c *shop.Collector) *limb {
	if c.Network == nil || len(c.Network.Runs) == 0 {
		return bare(c)
	}
	b := &builder{c, map[string]bool{}}
	return b.gather(nil, shop.End{Kind: shop.EndCollector})
}

// bare is the tree of a collector that has no drawing.
func bare(c *shop.Collector) *limb {
	root := &limb{}
	for _, m := range c.Machines {
		root.kids = append(root.kids, &limb{leaf: &leaf{kind: machineLeaf, name: m.Name}})
	}
	switch len(root.kids) {
	case 0:
		root.leaf = &leaf{kind: bareLeaf, name: "the ducts"}
	case 1:
		root = root.kids[0]
	}
	return root
}

// gather returns the limb that is fed by whatever ends at the place, and goes on with the runs given. Runs in series
// make one limb.
func (b *builder) gather(runs []*shop.Run, place shop.End) *limb {
	kids := b.endingAt(place)
	if len(runs) > 0 { // a run may end at the start of another without a junction between them
		kids = append(kids, b.endingAt(shop.End{Kind: shop.EndRun, Name: runs[0].Name})...)
	}
	if hose := b.hose(place); hose != nil {
		return &limb{runs: runs, kids: hosePorts(hose), at: place.Name}
	}
	switch len(kids) {
	case 0:
		return &limb{runs: runs, leaf: b.farEnd(place)}
	case 1:
		r := kids[0]
		b.used[r.Name] = true
		return b.gather(append([]*shop.Run{r}, runs...), r.From)
	}
	l := &limb{runs: runs, at: place.Name}
	for _, r := range kids {
		b.used[r.Name] = true
	}
	for _, r := range b.straightFirst(place, kids) {
		l.kids = append(l.kids, b.gather([]*shop.Run{r}, r.From))
	}
	return l
}

// endingAt lists the runs that end at a place and are not drawn yet.
func (b *builder) endingAt(place shop.End) []*shop.Run {
	var out []*shop.Run
	if place.Kind == shop.EndNone {
		return nil
	}
	for _, r := range b.c.Network.Runs {
		if r.To == place && !b.used[r.Name] {
			out = append(out, r)
		}
	}
	return out
}

// straightFirst puts a wye's straight run first; it goes on along the trunk's axis.
func (b *builder) straightFirst(place shop.End, runs []*shop.Run) []*shop.Run {
	straight := ""
	for _, j := range b.c.Network.Junctions {
		if place.Kind == shop.EndJunction && j.Name == place.Name {
			straight = j.Straight
		}
	}
	var first, rest []*shop.Run
	for _, r := range runs {
		if r.Name == straight {
			first = append(first, r)
		} else {
			rest = append(rest, r)
		}
	}
	return append(first, rest...)
}

// hose returns the selector at a place if it is a hose that is moved between machines.
func (b *builder) hose(place shop.End) *shop.Selector {
	if place.Kind != shop.EndSelector {
		return nil
	}
	for _, s := range b.c.Selectors {
		if s.Name == place.Name && s.Hose {
			return s
		}
	}
	return nil
}

// hosePorts are the machines that a hose can be put on.
func hosePorts(s *shop.Selector) []*limb {
	var out []*limb
	for i, m := range s.Ports {
		out = append(out, &limb{leaf: &leaf{kind: machineLeaf, name: m, port: i + 1, from: s.Name}})
	}
	return out
}

// farEnd names what stands at an end that nothing feeds.
func (b *builder) farEnd(place shop.End) *leaf {
	switch place.Kind {
	case shop.EndMachine:
		return &leaf{kind: machineLeaf, name: place.Name}
	case shop.EndStub:
		return &leaf{kind: stubLeaf, name: place.Name}
	case shop.EndJunction:
		return &leaf{kind: ringLeaf, name: place.Name} // its feeders hang elsewhere already
	}
	return &leaf{kind: bareLeaf, name: place.Name}
}

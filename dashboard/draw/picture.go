package draw

import (
	"html/template"
	"math"
	"slices"

	"ductward/internal/estimate"
	"ductward/internal/shop"
)

// Picture is what is drawn of one collector.
type Picture struct {
	Collector *shop.Collector
	Now       estimate.Now
	Leaks     []estimate.Zone // where new leakage may be, with what it would be there
	Filter    Filter
	Stale     bool   // what is known is old: everything is hatched
	ID        string // makes the picture's inner names unique on its page
	Title     string // read out in place of the picture
	Flow      string // the flow through the fan, in words
	// Figure says what stands below an open machine's name, and whether it is short of air.
	Figure func(estimate.MachineAir) (words string, short bool)
}

// Filter is how full the filter is. All are resistance ratios to the baseline; NaN: not known.
type Filter struct {
	Now     float64
	Low     float64 // of the interval of Now
	High    float64
	Due     float64 // at which it must be cleaned
	Emptied float64 // just after the last cleaning
	Words   string  // what stands below it: "clean in 6 to 11 days"
}

// Shape is one size of the picture.
type Shape struct {
	name       string
	width      float64
	left       float64 // where the channels begin
	right      float64 // where the trunk leaves for the separator
	openRow    float64 // height of an open machine's row
	shutRow    float64
	trunk      float64 // width of the largest flow
	large      float64 // letters of an open machine's name
	medium     float64
	small      float64
	steepest   float64 // the longest bend, where there is no room for more; 0: as long as it likes
	bar        float64 // how far a shut gate's bar reaches beyond the channel
	namesAbove bool    // names stand above the channels, since there is no room beside them
}

// The two shapes. Wide serves the wall and the desk, Narrow the phone.
var (
	Wide = Shape{name: "wide", width: 1200, left: 350, right: 870, openRow: 78, shutRow: 38, trunk: 110, large: 30,
		medium: 21, small: 17, bar: 8}
	Narrow = Shape{name: "narrow", width: 360, left: 10, right: 268, openRow: 90, shutRow: 44, trunk: 46, large: 19,
		medium: 14, small: 13, bar: 5, steepest: 90, namesAbove: true}
)

// thin is the width of a channel that carries nothing that counts.
const thin = 5.0

// SVG draws the picture.
func (p *Picture) SVG(shape Shape) template.HTML {
	root := grow(p.Collector)
	p.measure(root)
	k := &canvas{Shape: shape, p: p, scale: shape.trunk / p.largest(root)}
	k.arrange(root)
	k.draw(root)
	return template.HTML(k.finish()) // every text in it has been escaped
}

// measure sets need, flow and open of a limb from its far end to the collector.
func (p *Picture) measure(l *limb) {
	l.flow = math.NaN()
	if l.leaf != nil {
		p.measureLeaf(l)
	}
	for _, kid := range l.kids {
		p.measure(kid)
		l.open = l.open || kid.open
		if kid.open {
			l.need += kid.need
		}
	}
	if len(l.runs) > 0 {
		if f, ok := p.runFlow(l.runs[len(l.runs)-1].Name); ok {
			l.flow = math.Abs(f)
		}
	}
	if l.leaf != nil && l.leaf.kind == ringLeaf { // the other way round the ring carries air too
		l.open = p.Now.FanOn && l.flow > 0
	}
	if hosed(l) { // the hose goes straight to the machine that it is on
		slices.SortStableFunc(l.kids, func(a, b *limb) int { return -compareBool(a.open, b.open) })
	}
	if len(l.kids) > 0 && !known(l.flow) {
		l.flow = sumKnown(l.kids)
	}
}

// hosed tells whether the kids of a limb are the ports of a hose.
func hosed(l *limb) bool { return len(l.kids) > 0 && l.kids[0].leaf != nil && l.kids[0].leaf.port > 0 }

// compareBool orders false before true.
func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// measureLeaf takes a machine's own air and need.
func (p *Picture) measureLeaf(l *limb) {
	if l.leaf.kind == bareLeaf && len(p.Collector.Machines) == 0 { // all that the fan draws comes from there
		l.open, l.flow = p.Now.FanOn, p.Now.Flow.V
	}
	if l.leaf.kind != machineLeaf {
		return
	}
	if m, ok := p.machine(l.leaf.name); ok {
		l.open = m.Open
		if l.flow = m.Flow.V; !p.Now.FanOn {
			l.flow = 0
		}
		if known(m.Needs) {
			l.need = m.Needs
		}
		return
	}
	for _, m := range p.Collector.Machines {
		if m.Name == l.leaf.name && known(m.Needs) {
			l.need = m.Needs
		}
	}
}

// machine finds the air at a machine.
func (p *Picture) machine(name string) (estimate.MachineAir, bool) {
	for _, m := range p.Now.Machines {
		if m.Machine == name {
			return m, true
		}
	}
	return estimate.MachineAir{}, false
}

// run finds the air in a run.
func (p *Picture) run(name string) (estimate.RunAir, bool) {
	for _, r := range p.Now.Runs {
		if r.Run == name {
			return r, true
		}
	}
	return estimate.RunAir{}, false
}

// runFlow is the flow in a run, if it is known.
func (p *Picture) runFlow(name string) (float64, bool) {
	r, ok := p.run(name)
	return r.Flow, ok && known(r.Flow)
}

// sumKnown adds the flows of limbs; NaN if not one is known.
func sumKnown(kids []*limb) float64 {
	sum, any := 0.0, false
	for _, k := range kids {
		if known(k.flow) {
			sum, any = sum+k.flow, true
		}
	}
	if !any {
		return math.NaN()
	}
	return sum
}

// largest is the flow that the trunk's full width stands for: the end of the fan curve, so that the scale does not
// change as gates move, or what flows and is needed now if that is more.
func (p *Picture) largest(root *limb) float64 {
	q := math.Max(root.need, 1e-3)
	if known(root.flow) {
		q = math.Max(q, root.flow)
	}
	if pts := p.Collector.Fan.Points; len(pts) > 0 {
		q = math.Max(q, 0.8*pts[len(pts)-1].Flow) // nobody works at the very end of the curve
	}
	for _, m := range p.Collector.Machines {
		if known(m.Needs) {
			q = math.Max(q, m.Needs)
		}
	}
	return q
}

// known tells whether a number is one.
func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

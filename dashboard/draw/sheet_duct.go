package draw

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// bough draws a trunk with all that joins it.
func (k *sheet) bough(b *bough) {
	for i, at := range b.joins {
		for _, j := range at {
			k.bough(j)
			k.toTrunk(j, b.chain[i])
		}
		k.trunk(b, i)
	}
	k.row(b)
	if len(b.joins) > 0 {
		k.wayOut(b)
	}
}

// row draws a far end with its runs, up to the trunk that the row itself turns into. What joins another trunk is drawn
// by toTrunk, and what leads to the collector by collector.
func (k *sheet) row(b *bough) {
	l := b.chain[len(b.chain)-1]
	k.rowStart(l, b.row)
	for i, x := range k.starts(b) {
		k.runAcross(l, i, x, k.cells[i], b.row)
	}
	if !b.single() {
		k.ducts(l, []point{{k.left, b.row}, {b.x, b.row}, {b.x, b.to[len(b.chain)-1]}}, k.joints(l, b.row, k.starts(b)))
	}
}

// toTrunk draws the channel by which a bough joins the trunk at b.end.
func (k *sheet) toTrunk(b *bough, into *limb) {
	l, x := b.chain[0], k.left
	if !b.single() {
		x = b.x
	}
	at := []point{{x, b.y}, {b.end, b.y}}
	if k.entersAsBranch(l, into) {
		at = []point{{x, b.y}, {b.end - slant, b.y}, {b.end, b.y + slant}}
	}
	if !b.single() {
		at = append([]point{{b.x, b.from[0]}}, at...)
	}
	k.ducts(l, at, k.joints(l, b.y, k.outStarts(b)))
	if k.shutPort(l) {
		k.ink("d-bar", "M%.1f %.1fv%.1f", b.end-slant-6, b.y-l.width/2-7, l.width+14)
	}
}

// shutPort tells whether a limb ends at a port of a selector that is not the one in use.
func (k *sheet) shutPort(l *limb) bool {
	return len(l.runs) > 0 && l.runs[len(l.runs)-1].To.Kind == shop.EndSelector && !l.open
}

// trunk draws the stretch of trunk that leads to the joint where chain[i] begins, and its labels.
func (k *sheet) trunk(b *bough, i int) {
	if many := b.joins[i]; len(many) > 1 { // several join at one place: it is drawn as long as they need
		k.duct(b.chain[i], []point{{b.x, b.to[i+1]}, {b.x, many[len(many)-1].y}})
	}
	l := b.chain[i+1]
	if l.leaf != nil {
		return
	}
	from, to := b.from[i+1], b.to[i+1]
	top, foot := from+slant+2, to-2
	each := (foot - top) / float64(max(len(l.runs), 1))
	var joints []point
	for n := range l.runs {
		y := top + each*float64(n)
		if n > 0 {
			joints = append(joints, point{b.x, y})
			k.joint(l, point{b.x, y}, true)
		}
		k.runDown(l, n, b.x, b.out, y, each)
	}
	k.ducts(l, []point{{b.x, from}, {b.x, to + seam}}, joints)
}

// starts are where the runs of a far end's row begin.
func (k *sheet) starts(b *bough) []float64 {
	x, out := k.left, []float64(nil)
	for i := range b.chain[len(b.chain)-1].runs {
		out = append(out, x)
		x += k.cells[i]
	}
	return out
}

// outStarts are where the runs begin that lead away from a bough.
func (k *sheet) outStarts(b *bough) []float64 {
	if b.single() {
		return k.starts(b)
	}
	x, out := b.out, []float64(nil)
	for i := range b.chain[0].runs {
		out = append(out, x)
		x += k.outCell(b.chain[0], i)
	}
	return out
}

// joints draws the flanges between the runs of a row, and returns where they are.
func (k *sheet) joints(l *limb, y float64, starts []float64) []point {
	var out []point
	for i, x := range starts {
		if i > 0 {
			out = append(out, point{x, y})
			k.joint(l, point{x, y}, false)
		}
	}
	return out
}

// wayOut draws the runs of the limb that leads away from a trunk; the channel itself is drawn with what it joins.
func (k *sheet) wayOut(b *bough) {
	for i, x := range k.outStarts(b) {
		k.runAcross(b.chain[0], i, x, k.outCell(b.chain[0], i), b.y)
	}
}

// ducts draws the channel of a limb along a broken line. It meets the limb's joints in turn, since dust may settle in
// one run and not in the next, and a ring may part between two.
func (k *sheet) ducts(l *limb, at, joints []point) {
	piece, n := []point{at[0]}, 0
	for i := 1; i < len(at); i++ {
		for ; n < len(joints) && between(at[i-1], at[i], joints[n]); n++ {
			k.duct(k.only(l, n), append(piece, joints[n]))
			piece = []point{joints[n]}
		}
		piece = append(piece, at[i])
	}
	k.duct(k.only(l, n), piece)
}

// between tells whether p lies on the level or upright line from a to b.
func between(a, b, p point) bool {
	const near = 1e-6
	return math.Abs(p.x-a.x)+math.Abs(p.x-b.x) <= math.Abs(a.x-b.x)+near && math.Abs(p.y-a.y)+math.Abs(p.y-b.y) <= math.Abs(a.y-b.y)+near
}

// only is the part of a limb that is one of its runs, with that run's own air. What flows backwards serves no need of
// the machines that the limb leads from.
func (k *sheet) only(l *limb, n int) *limb {
	if len(l.runs) < 2 {
		return l
	}
	one := *l
	one.runs = l.runs[n : n+1]
	q, ok := k.p.runFlow(one.runs[0].Name)
	if !ok {
		return &one
	}
	one.flow, one.fill = math.Abs(q), math.Abs(q)*k.scale
	one.width = math.Max(thinSheet, one.fill)
	if l.open && q >= 0 {
		one.width = math.Max(one.width, l.need*k.scale)
	}
	one.fill = math.Min(one.fill, one.width)
	return &one
}

// duct draws a channel along a broken line: as wide as what is needed, filled from its floor, which is the right-hand
// side of the way that the air goes, as far as what flows.
func (k *sheet) duct(l *limb, at []point) {
	for i := 1; i < len(at); i++ {
		a, b := at[i-1], at[i]
		h := l.width / 2
		if a.x == b.x || a.y == b.y {
			k.channels = append(k.channels, box{math.Min(a.x, b.x) - h, math.Min(a.y, b.y) - h, math.Max(a.x, b.x) + h, math.Max(a.y, b.y) + h})
		}
	}
	if !k.carries(l) {
		class := "d-thin"
		if k.away(l) {
			class = "d-thin d-away"
		}
		fmt.Fprintf(&k.layers[sheetWall], `<path class="%s" d="%s"/>`, class, line(at)) // under the channels that it leads to
		return
	}
	k.stroke(sheetWall, "s-wall", l.width+3, at)
	k.stroke(sheetBore, "s-bore", l.width, at)
	if known(l.flow) && l.fill > 0 {
		k.stroke(sheetAir, "s-air", l.fill, beside(at, (l.width-l.fill)/2))
	} else if l.open && !known(l.flow) {
		fmt.Fprintf(&k.layers[sheetAir], `<path stroke="url(#%s)" stroke-width="%.1f" d="%s"/>`, k.hatchID(), l.width, line(at))
	}
	if need := l.need * k.scale; l.leaf != nil && l.open && need > 0 && l.fill > need+1 {
		k.stroke(sheetAir, "s-need", 1.5, beside(at, l.width/2-need))
	}
	if k.settles(l) {
		k.dust(beside(at, l.width/2-2))
	}
}

// dust dots a channel's floor.
func (k *sheet) dust(floor []point) {
	k.stroke(sheetAir, "s-dust-rim", 5, floor)
	k.stroke(sheetAir, "s-dust", 3.4, floor)
}

// carries tells whether a limb is drawn as a channel: it is open, or takes more than what leaks.
func (k *sheet) carries(l *limb) bool { return l.open || l.width > thinSheet }

// away tells whether a hose hangs elsewhere, or a ring has been cut.
func (k *sheet) away(l *limb) bool {
	return l.leaf != nil && (l.leaf.port > 0 || l.leaf.kind == ringLeaf)
}

// settles tells whether dust may settle in any run of a limb.
func (k *sheet) settles(l *limb) bool {
	for _, r := range l.runs {
		if air, ok := k.p.run(r.Name); ok && air.Settles {
			return true
		}
	}
	return false
}

// stroke draws a broken line of some width.
func (k *sheet) stroke(layer int, class string, width float64, at []point) {
	fmt.Fprintf(&k.layers[layer], `<path class="%s" stroke-width="%.1f" d="%s"/>`, class, width, line(at))
}

// beside is the broken line at a distance from another one, on the right-hand side of the way that it goes.
func beside(at []point, d float64) []point {
	out := make([]point, len(at))
	for i, p := range at {
		var n point // the mitre of the sides before and behind
		if i > 0 {
			n = normalOf(at[i-1], p)
		}
		if i < len(at)-1 {
			m := normalOf(p, at[i+1])
			if i > 0 {
				s := 1 + n.x*m.x + n.y*m.y
				n = point{(n.x + m.x) / s, (n.y + m.y) / s}
			} else {
				n = m
			}
		}
		out[i] = point{p.x + n.x*d, p.y + n.y*d}
	}
	return out
}

// normalOf is the unit vector to the right-hand side of the way from a to b.
func normalOf(a, b point) point {
	dx, dy := b.x-a.x, b.y-a.y
	n := math.Hypot(dx, dy)
	if n == 0 {
		return point{}
	}
	return point{-dy / n, dx / n}
}

package draw

import (
	"math"

	"ductward/internal/shop"
)

// rowStart draws what stands at a row's far end: the machine's hood, a cap, a cut.
func (k *sheet) rowStart(l *limb, y float64) {
	name, figure, short := k.rowName(l)
	nameClass, figureClass := "d-shut", "d-shut"
	if l.open && l.leaf.kind == machineLeaf {
		nameClass, figureClass = "d-open", "d-figure"
	}
	if short {
		figureClass = "d-short"
	}
	x := k.left - 18
	k.text(x, y-2, sheetName, "end", nameClass, name)
	k.text(x, y+sheetLine-3, sheetFigure, "end", figureClass, figure)
	half := l.width / 2
	switch {
	case l.leaf.kind == stubLeaf:
		k.ink("d-bar", "M%.1f %.1fv14", k.left, y-7)
	case l.leaf.kind == ringLeaf:
		k.cut(point{k.left, y})
	case k.carries(l):
		k.ink("s-joint", "M%.1f %.1fl-9 -6M%.1f %.1fl-9 6", k.left, y-half-1, k.left, y+half+1)
	}
}

// startsAtSelector tells whether a run leads away from a selector.
func (k *sheet) startsAtSelector(l *limb, i int) bool { return l.runs[i].From.Kind == shop.EndSelector }

// cut draws the broken end of a ring.
func (k *sheet) cut(p point) { k.ink("s-joint", "M%.1f %.1fl4 -6l-8 -5l8 -5l-4 -6", p.x-1, p.y+11) }

// joint draws the place where two runs of one limb meet: a flange across the channel.
func (k *sheet) joint(l *limb, p point, down bool) {
	half := l.width/2 + 4
	if down {
		k.ink("s-joint", "M%.1f %.1fh%.1f", p.x-half, p.y, 2*half)
		return
	}
	k.ink("s-joint", "M%.1f %.1fv%.1f", p.x, p.y-half, 2*half)
}

// runAcross sets a run's label over and under its channel, which goes across, and its gate and leaks on it.
func (k *sheet) runAcross(l *limb, i int, x, width, y float64) {
	t, half := k.label(l, i), l.width/2
	k.gate(l, l.runs[i], point{x + gateAcross(i), y}, false)
	if len(k.leaksAt(l.runs[i])) > 0 {
		k.barb(point{x + width - 12, y - half}, point{0, -1})
	}
	if k.startsAtSelector(l, i) {
		k.flap(point{x, y}, half)
	}
	x += k.lead(l, i)
	k.text(x, y-half-6, sheetName, "start", nameOf(l), t.name)
	if t.more != "" {
		k.text(x+textWidth(t.name, sheetName, true)+8, y-half-6, sheetFigure, "start", moreOf(l, t), t.more)
	}
	k.text(x, y+half+sheetLine-1, sheetFigure, "start", figuresOf(l, t), t.figures)
}

// gateAcross is how far behind the beginning of a run in a row its gate stands.
func gateAcross(i int) float64 {
	if i > 0 {
		return 13
	}
	return 10
}

// lead is how far behind the beginning of a run in a row its label begins: behind its gate or selector.
func (k *sheet) lead(l *limb, i int) float64 {
	x := 0.0
	if i > 0 {
		x = 6
	}
	if l.runs[i].Gate != "" {
		x = gateAcross(i) + 10
	}
	if k.startsAtSelector(l, i) {
		x = math.Max(x, l.width/2+12)
	}
	return x
}

// runDown sets a run's label beside its channel, which goes down.
func (k *sheet) runDown(l *limb, i int, x, textX, y, room float64) {
	t, half := k.label(l, i), l.width/2
	_, lines := t.standing()
	at := y + (room-float64(lines)*sheetLine)/2 + sheetLine - 4
	k.text(textX, at, sheetName, "start", nameOf(l), t.name)
	if t.more != "" {
		at += sheetLine
		k.text(textX, at, sheetFigure, "start", moreOf(l, t), t.more)
	}
	k.text(textX, at+sheetLine, sheetFigure, "start", figuresOf(l, t), t.figures)
	k.gate(l, l.runs[i], point{x, y + 7}, true)
	if len(k.leaksAt(l.runs[i])) > 0 {
		k.barb(point{x - half, y + room/2}, point{-1, 0})
	}
	if k.startsAtSelector(l, i) {
		k.flap(point{x, y}, half)
	}
}

// nameOf is the style of a run's name: strong where an open machine's air goes through it.
func nameOf(l *limb) string {
	if l.open {
		return "d-open"
	}
	return "d-shut"
}

// figuresOf is the style of a run's figures.
func figuresOf(l *limb, t label) string {
	switch {
	case t.slow:
		return "s-slow"
	case l.open:
		return "d-figure"
	}
	return "d-shut"
}

// moreOf is the style of what else is said of a run.
func moreOf(l *limb, t label) string {
	if t.leaks {
		return "d-short"
	}
	return "d-shut"
}

// gate draws a run's gate: a bar across where it is shut, two ends beside the channel where it is open.
func (k *sheet) gate(l *limb, r *shop.Run, p point, down bool) {
	if r.Gate == "" {
		return
	}
	near, far := l.width/2+3, l.width/2+9
	if down {
		k.mark(p, far, 3)
	} else {
		k.mark(p, 3, far)
	}
	open := (&canvas{p: k.p}).gateOpen(l, r)
	switch {
	case !open && down:
		k.ink("d-bar", "M%.1f %.1fh%.1f", p.x-far, p.y, 2*far)
	case !open:
		k.ink("d-bar", "M%.1f %.1fv%.1f", p.x, p.y-far, 2*far)
	case down:
		k.ink("d-gate", "M%.1f %.1fh%.1fM%.1f %.1fh%.1f", p.x-far, p.y, far-near, p.x+near, p.y, far-near)
	default:
		k.ink("d-gate", "M%.1f %.1fv%.1fM%.1f %.1fv%.1f", p.x, p.y-far, far-near, p.x, p.y+near, far-near)
	}
}

// flap draws a selector: a diamond on the channel behind it.
func (k *sheet) flap(p point, half float64) {
	r := half + 6
	k.mark(p, r, r)
	k.ink("d-part", "M%.1f %.1fl%.1f %.1fl%.1f %.1fl%.1f %.1fZ", p.x-r, p.y, r, -r, r, r, -r, r)
}

// barb draws a leak: it enters from outside, where out points.
func (k *sheet) barb(p, out point) {
	side := point{-out.y, out.x}
	k.mark(point{p.x + 4*out.x, p.y + 4*out.y}, 7, 7)
	k.ink("d-leak", "M%.1f %.1fL%.1f %.1fL%.1f %.1fZ", p.x-3*out.x, p.y-3*out.y,
		p.x+11*out.x+6*side.x, p.y+11*out.y+6*side.y, p.x+11*out.x-6*side.x, p.y+11*out.y-6*side.y)
}

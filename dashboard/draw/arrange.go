package draw

import "math"

// block is the room that a limb and all that feeds it take: rows from top to foot, and the height of its own axis.
type block struct {
	height, axis float64
}

// arrange gives every limb its place.
func (k *canvas) arrange(root *limb) {
	k.size(root)
	k.order(root)
	b := root.block
	k.top = k.medium + 8
	k.axis = k.top + b.axis
	half := k.blockHeight() / 2
	if k.axis < half+k.top { // the filter beside it needs room above the axis
		k.axis = half + k.top
	}
	k.height = math.Max(k.axis+b.height-b.axis, k.axis+half+k.footRoom()) + 8
	if k.namesAbove { // beside the comb there is no room: a wide channel may come up there
		k.height = math.Max(k.axis+b.height-b.axis, k.axis+half) + k.footRoom() + 8
	}
	k.place(root, k.axis-b.axis, k.right, k.axis)
}

// lead is how far a channel runs on its own before the first joint may come.
func (k *canvas) lead() float64 {
	if k.namesAbove {
		return 104
	}
	return 60
}

// size sets the widths of a limb's channel and of the air in it.
func (k *canvas) size(l *limb) {
	for _, kid := range l.kids {
		k.size(kid)
	}
	if known(l.flow) {
		l.fill = l.flow * k.scale
	}
	l.width = thin
	if l.open || l.leaf == nil {
		l.width = math.Max(thin, l.fill)
	}
	if l.open {
		l.width = math.Max(l.width, l.need*k.scale)
	}
	l.fill = math.Min(l.fill, l.width)
}

// reach counts the joints from a limb to its farthest end. A branch that has joints of its own counts for more, since
// it must bend from its own axis to that which it joins.
func reach(l *limb) float64 {
	if len(l.kids) == 0 {
		return 0
	}
	most := reach(l.kids[0]) + 1
	for _, kid := range l.kids[1:] {
		if len(kid.kids) > 0 {
			most = math.Max(most, reach(kid)+2)
		}
	}
	return most
}

// rowHeight is the height of a leaf's row.
func (k *canvas) rowHeight(l *limb) float64 {
	h := k.shutRow
	if l.open {
		h = k.openRow
	}
	if k.namesAbove {
		return h + l.width/2
	}
	return math.Max(h, l.width+k.small)
}

// rowAxis is where in its row a leaf's channel lies.
func (k *canvas) rowAxis(l *limb) float64 {
	h := k.rowHeight(l)
	if k.namesAbove {
		return h - l.width/2 - 8
	}
	return h / 2
}

// order settles, from the far ends to the collector, on which side of its straight kid each other kid of a limb lies,
// and how much room the limb's block takes. The kid that joins goes where there is less yet, so that the trunk's axis
// stays near the middle.
func (k *canvas) order(l *limb) {
	if len(l.kids) == 0 {
		l.block = block{k.rowHeight(l), k.rowAxis(l)}
		return
	}
	for _, kid := range l.kids {
		k.order(kid)
	}
	l.block = l.kids[0].block
	l.stack = []*limb{l.kids[0]}
	for _, kid := range l.kids[1:] {
		h := kid.block.height
		if l.block.axis <= l.block.height-l.block.axis {
			l.stack = append([]*limb{kid}, l.stack...)
			l.block.axis += h
		} else {
			l.stack = append(l.stack, kid)
		}
		l.block.height += h
	}
}

// place puts a limb so that it ends at (x, y), with its block starting at top.
func (k *canvas) place(l *limb, top, x, y float64) {
	l.x1, l.y1, l.y0 = x, y, top+l.block.axis
	if len(l.kids) == 0 {
		l.x0 = k.left
		return
	}
	l.x0 = x - (x-k.left-k.lead())/(reach(l)+trunkEnd)
	total := 0.0
	for _, kid := range l.stack {
		total += k.share(kid)
	}
	at := l.y0 - total/2
	bend := 0.0
	for _, kid := range l.stack {
		k.place(kid, top, l.x0, at+k.share(kid)/2)
		at += k.share(kid)
		top += kid.block.height
		if kid.bend = k.bendOf(kid); kid.leaf != nil {
			bend = math.Max(bend, kid.bend)
		}
	}
	for _, kid := range l.kids { // drops that join at one place bend over one length, so that none crosses another
		if kid.leaf != nil {
			kid.bend = bend
		}
	}
}

// bendOf is the length that a limb's bend asks for: about the angle of a wye, and gentle where the channel is wide.
func (k *canvas) bendOf(l *limb) float64 {
	bend := 0.9 * math.Abs(l.y1-l.y0)
	if k.steepest > 0 {
		bend = math.Min(bend, k.steepest)
	}
	return math.Max(bend, math.Max(36, 1.1*l.width))
}

// trunkEnd is how much of a joint's room the last stretch before the separator gets.
const trunkEnd = 0.3

// share is the width that a kid takes where it joins.
func (k *canvas) share(l *limb) float64 {
	if l.width <= thin {
		return 0
	}
	return l.width
}

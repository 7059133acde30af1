package draw

import "ductward/internal/shop"

// bough is a trunk with all that joins it: limbs that follow each other from the collector's side to one far end.
type bough struct {
	chain []*limb    // the first leads away from it, the last begins at a machine or another far end
	joins [][]*bough // what joins where chain[i] begins, beside chain[i+1]

	// filled in by across and down
	x     float64   // of the trunk; 0 where the bough is a single row
	out   float64   // where the texts of chain[0] begin, to the right of the trunk
	right float64   // the rightmost end of all of its texts
	end   float64   // x of what it joins
	y     float64   // of the row on which it leads away
	row   float64   // of its far end
	from  []float64 // by chain: y at which the limb begins, on the trunk
	to    []float64 // by chain: y at which it ends
}

// newBough follows a limb to the far end that is most of a trunk.
func newBough(l *limb) *bough {
	b := &bough{chain: []*limb{l}}
	for len(l.kids) > 0 {
		main := mainKid(l)
		var others []*bough
		for i, kid := range l.kids {
			if i != main {
				others = append(others, newBough(kid))
			}
		}
		b.joins = append(b.joins, others)
		l = l.kids[main]
		b.chain = append(b.chain, l)
	}
	b.from, b.to = make([]float64, len(b.chain)), make([]float64, len(b.chain))
	return b
}

// mainKid chooses the kid that goes on as the trunk: the straight one, unless another one is fed by more than twice as
// many far ends. That keeps the sheet narrow: every trunk further left has at most two thirds of the ends.
func mainKid(l *limb) int {
	main := 0
	for i, kid := range l.kids {
		if ends(kid) > 2*ends(l.kids[0]) && ends(kid) > ends(l.kids[main]) {
			main = i
		}
	}
	return main
}

// ends counts the far ends that feed a limb.
func ends(l *limb) int {
	if len(l.kids) == 0 {
		return 1
	}
	n := 0
	for _, kid := range l.kids {
		n += ends(kid)
	}
	return n
}

// rows calls f with the far end of every row.
func (b *bough) rows(f func(*limb)) {
	f(b.chain[len(b.chain)-1])
	for _, at := range b.joins {
		for _, j := range at {
			j.rows(f)
		}
	}
}

// single tells that the bough is one row without anything that joins.
func (b *bough) single() bool { return len(b.chain) == 1 }

// widths sets the channels' widths, as those of the other picture are.
func (k *sheet) widths(l *limb) {
	c := canvas{p: k.p, scale: k.scale}
	c.size(l)
	k.narrow(l)
}

// narrow makes a channel that carries nothing that counts as thin as the sheet's lines.
func (k *sheet) narrow(l *limb) {
	for _, kid := range l.kids {
		k.narrow(kid)
	}
	if l.width <= thin {
		l.width = thinSheet
		if l.fill > thinSheet {
			l.fill = thinSheet
		}
	}
}

// thinSheet is the width of a channel that carries nothing that counts.
const thinSheet = 4.0

// junctionAt finds the junction where a limb's kids join.
func (k *sheet) junctionAt(l *limb) *shop.Junction {
	if k.Collector.Network == nil || len(l.kids) == 0 {
		return nil
	}
	for _, j := range k.Collector.Network.Junctions {
		if j.Name == l.at {
			return j
		}
	}
	return nil
}

// entersAsBranch tells whether a limb comes into a wye as its branch, at less than a right angle.
func (k *sheet) entersAsBranch(l *limb, into *limb) bool {
	j := k.junctionAt(into)
	return j != nil && j.Kind == shop.Wye && j.Angle < tee && len(l.runs) > 0 && l.runs[len(l.runs)-1].Name == j.Branch
}

// tee (rad) is the angle from which on a branch is drawn as a tee: 75°.
const tee = 1.309

package draw

import "math"

// above is the room over a row's middle: half its channel and a name.
func above(l *limb) float64 { return l.width/2 + sheetLine + 4 }

// below is the room under a row's middle: half its channel and the figures.
func below(l *limb) float64 { return l.width/2 + sheetLine + 3 }

// labelWidth is the room that a run's label takes beside a row: name and what is said of it stand in one line.
func (t label) labelWidth() float64 {
	return math.Max(textWidth(t.name, sheetName, true)+t.moreWidth(), textWidth(t.figures, sheetFigure, t.slow))
}

// moreWidth is the room of what is said of a run behind its name.
func (t label) moreWidth() float64 {
	if t.more == "" {
		return 0
	}
	return 8 + textWidth(t.more, sheetFigure, t.leaks)
}

// standing is the room that a run's label takes beside the trunk, where every part of it has a line.
func (t label) standing() (width float64, lines int) {
	width, lines = math.Max(textWidth(t.name, sheetName, true), textWidth(t.figures, sheetFigure, t.slow)), 2
	if t.more != "" {
		width, lines = math.Max(width, textWidth(t.more, sheetFigure, t.leaks)), 3
	}
	return width, lines
}

// columns settles where the rows' runs begin, one column for the first runs of all drops, one for the second and so on.
func (k *sheet) columns(b *bough) {
	k.branches = map[string]bool{}
	k.turned(b)
	names := 0.0
	b.rows(func(l *limb) {
		name, figure, short := k.rowName(l)
		names = math.Max(names, math.Max(textWidth(name, sheetName, true), textWidth(figure, sheetFigure, short)))
		for i := range l.runs {
			if i == len(k.cells) {
				k.cells = append(k.cells, shortestCell)
			}
			k.cells[i] = math.Max(k.cells[i], k.lead(l, i)+k.label(l, i).labelWidth()+cellGap)
		}
	})
	k.left = sheetMargin + names + 26
}

// turned notes the branches that are drawn as the trunk, to say so.
func (k *sheet) turned(b *bough) {
	for i, at := range b.joins {
		if up := b.chain[i+1]; k.entersAsBranch(up, b.chain[i]) {
			k.branches[up.runs[len(up.runs)-1].Name] = true
		}
		for _, j := range at {
			k.turned(j)
		}
	}
}

// across settles the places of trunks from left to right: each to the right of every text of what joins it.
func (k *sheet) across(b *bough) {
	far := b.chain[len(b.chain)-1]
	b.right = k.left
	for i := range far.runs {
		b.right += k.cells[i]
	}
	if b.single() {
		return
	}
	widest := 0.0
	for i, at := range b.joins {
		widest = math.Max(widest, b.chain[i].width)
		for _, j := range at {
			k.across(j)
			b.right = math.Max(b.right, j.right)
		}
	}
	b.x = b.right + slant + widest/2
	for _, at := range b.joins {
		for _, j := range at {
			j.end = b.x
		}
	}
	b.out = b.x + widest/2 + 12
	b.right = b.out + k.outWidth(b.chain[0])
	for _, l := range b.chain[1 : len(b.chain)-1] {
		for i := range l.runs {
			w, _ := k.label(l, i).standing()
			b.right = math.Max(b.right, b.out+w+cellGap/2)
		}
	}
}

// outWidth is the room that the runs of a limb which leads away from a trunk take.
func (k *sheet) outWidth(l *limb) float64 {
	w := 0.0
	for i := range l.runs {
		w += k.outCell(l, i)
	}
	return w
}

// outCell is the room that one of them takes.
func (k *sheet) outCell(l *limb, i int) float64 {
	return math.Max(shortestCell, k.lead(l, i)+k.label(l, i).labelWidth()+cellGap)
}

// down settles the places of rows and joints from top to foot, and returns the foot of the bough.
func (k *sheet) down(b *bough, top float64) float64 {
	far := b.chain[len(b.chain)-1]
	b.row = top + above(far)
	foot := b.row + math.Max(below(far), sheetLine) + sheetGap
	at := b.row
	for i := len(b.joins) - 1; i >= 0; i-- {
		up := b.chain[i+1]
		b.from[i+1] = at
		need := at + k.standingRoom(up)
		if len(b.joins[i]) == 0 {
			foot, at = math.Max(foot, need), need
		}
		b.to[i+1] = 0
		for n, j := range b.joins[i] {
			end := k.down(j, foot)
			if late := need - j.y; n == 0 && late > 0 {
				end = k.down(j, foot+late)
			}
			if n == 0 {
				b.to[i+1] = j.y
			}
			foot, at = end, j.y
		}
		if b.to[i+1] == 0 {
			b.to[i+1] = at
		}
	}
	b.y = at
	if out := b.chain[0]; !b.single() { // below the last joint, so that what comes down the trunk is seen to come straight on
		b.from[0] = at
		b.y = at + above(out) + slant
		b.to[0] = b.y
		foot = math.Max(foot, b.y+below(out)+sheetGap)
	}
	return foot
}

// standingRoom is the height that a limb's labels take along the trunk.
func (k *sheet) standingRoom(l *limb) float64 {
	if l.leaf != nil {
		return sheetLine
	}
	h := slant + 8
	for i := range l.runs {
		_, lines := k.label(l, i).standing()
		h += float64(lines)*sheetLine + 4
	}
	return h
}

package draw

import (
	"fmt"
	"math"
)

const (
	keyWidth = 330.0
	keySign  = 46.0 // room for a sign before its words
	keyRow   = 6.0  // between two entries
	keyGap   = 40.0 // between two columns
)

// entry is one line of the key: a sign with its words, or words alone.
type entry struct {
	sign  func(k *sheet, x, y float64) // nil: words alone
	class string
	size  float64
	lines []string
}

// key is the block of words at the sheet's upper right, or at its foot where there is no room.
type key struct {
	entries []entry
	x, y    float64
	height  float64 // of a column
}

// height is the room that an entry takes.
func (e entry) height() float64 { return float64(len(e.lines))*(e.size+4) + keyRow }

// columns counts the columns that the entries take if none is higher than limit.
func (at *key) columns(limit float64) int {
	n, y := 1, 0.0
	for _, e := range at.entries {
		if y > 0 && y+e.height() > limit {
			n, y = n+1, 0
		}
		y += e.height()
	}
	return n
}

// spread makes the key no wider than some columns, and as low as that allows.
func (at *key) spread(columns int) {
	whole := at.height
	for at.height = whole / float64(columns); at.columns(at.height) > columns; at.height += 4 {
	}
}

// key gathers what has to be explained. It looks at the whole drawing, so that it tells of no sign that is not there.
func (k *sheet) key() key {
	var out key
	for i, words := range k.Heading {
		e := entry{class: "d-figure", size: sheetName, lines: wrap(words, sheetName, keyWidth)}
		if i == 0 {
			e = entry{class: "d-open", size: 17, lines: wrap(words, 17*1.13, keyWidth)}
		}
		out.entries = append(out.entries, e)
	}
	k.explain(&out)
	for _, words := range k.Notes {
		out.entries = append(out.entries, entry{class: "d-figure", size: sheetFigure, lines: wrap(words, sheetFigure, keyWidth)})
	}
	return out
}

// explain adds the signs that the drawing will use.
func (k *sheet) explain(out *key) {
	s := k.foretell()
	add := func(is bool, sign func(*sheet, float64, float64), words string) {
		if is {
			out.entries = append(out.entries, entry{sign, "d-figure", sheetFigure, wrap(words, sheetFigure, keyWidth-keySign)})
		}
	}
	add(true, signChannel, "a channel is as wide as the air that its machines need, and filled as far as the air that flows; a broken line in it: more flows than is needed")
	add(s.open, signOpen, "open gate")
	add(s.shut, signShut, "shut gate or port")
	add(s.dust, signDust, fmt.Sprintf("dots on the floor, and the word slow: below %s dust may settle", k.Figures.transport(k.Collector.Transport)))
	add(s.leak, signLeak, "air leaks in")
	add(s.selector, signFlap, "selector, or hose that is moved between machines")
	add(s.away, signAway, "a hose that hangs elsewhere, or a ring without air")
	add(s.cap, signCap, "capped branch")
	add(s.ring, signRing, "a ring is cut here to be drawn: the run that parts at the same letter leads on")
	add(true, nil, "⌀ is in "+k.Figures.diameterUnit()+". Each run has its flow, its velocity and its static pressure at the end towards the collector. Pressures are gauge: suction is negative.")
}

// transport is the velocity that carries dust, in words.
func (f Figures) transport(v float64) string {
	if v <= 0 {
		v = 20
	}
	if f.Transport != nil {
		return f.Transport(v)
	}
	return fmt.Sprintf("%g\u00a0m/s", v)
}

// foretell walks the drawing for the signs that it will need.
func (k *sheet) foretell() signs {
	var s signs
	var walk func(*limb)
	walk = func(l *limb) {
		for i, r := range l.runs {
			t := k.label(l, i)
			s.dust, s.leak, s.selector = s.dust || t.slow, s.leak || t.leaks, s.selector || k.startsAtSelector(l, i)
			if open := (&canvas{p: k.p}).gateOpen(l, r); r.Gate != "" {
				s.open, s.shut = s.open || open, s.shut || !open
			}
		}
		s.shut = s.shut || k.shutPort(l)
		if l.leaf != nil {
			s.away = s.away || k.away(l) && !k.carries(l)
			s.cap, s.ring = s.cap || l.leaf.kind == stubLeaf, s.ring || l.leaf.kind == ringLeaf
		}
		for _, kid := range l.kids {
			walk(kid)
		}
	}
	walk(k.root)
	return s
}

// outline settles the place of everything on the sheet and its size.
func (k *sheet) outline(b *bough, at *key) {
	for _, words := range k.names { // only now are all names that were shortened known
		at.entries = append(at.entries, entry{class: "d-figure", size: sheetFigure, lines: wrap(words, sheetFigure, keyWidth)})
	}
	for _, e := range at.entries {
		at.height += e.height()
	}
	foot := k.down(b, sheetMargin)
	_, end := k.placeParts(k.partsFrom(b))
	end = math.Max(end+34, b.right)
	foot = math.Max(foot, b.y+partHalf+4*sheetLine)
	at.x, at.y = k.keyX(b), sheetMargin
	if b.single() || at.y+at.height > b.y-partHalf-20 { // no room over the collector: at the foot
		if b.single() {
			foot = k.down(b, sheetMargin+partHalf)
			foot = math.Max(foot, b.y+partHalf+4*sheetLine)
		}
		at.x, at.y = sheetMargin, foot+10
		at.spread(max(1, int((end-at.x+keyGap)/(keyWidth+keyGap))))
		foot = at.y + at.height
	}
	k.width, k.height = math.Max(end, at.x+keyWidth)+sheetMargin, foot+sheetMargin
}

// keyX is where the key begins: right of every label along the last trunk.
func (k *sheet) keyX(b *bough) float64 {
	if b.single() {
		return sheetMargin
	}
	right := b.out
	for _, l := range b.chain[1 : len(b.chain)-1] {
		for i := range l.runs {
			w, _ := k.label(l, i).standing()
			right = math.Max(right, b.out+w)
		}
	}
	_, end := k.placeParts(k.partsFrom(b))
	return math.Max(right+50, end+34-keyWidth)
}

// setKey writes the key.
func (k *sheet) setKey(at key) {
	left, y := at.x, at.y
	for _, e := range at.entries {
		if y > at.y && y+e.height() > at.y+at.height+0.5 {
			left, y = left+keyWidth+keyGap, at.y
		}
		x := left
		if e.sign != nil {
			e.sign(k, x, y+e.size*0.6)
			x += keySign
		}
		for _, words := range e.lines {
			y += e.size + 4
			k.text(x, y-4, e.size, "start", e.class, words)
		}
		y += keyRow
	}
}

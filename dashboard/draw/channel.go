package draw

import (
	"fmt"
	"html"
	"math"
	"unicode/utf8"

	"ductward/internal/shop"
)

// ninety turns a standard error into the half-width that holds the true value nine times out of ten: Φ⁻¹(0.95).
const ninety = 1.6448536269514722

// draw draws the ducts from the far ends to the collector, then the collector, then what leaks in.
func (k *canvas) draw(root *limb) {
	k.limb(root)
	k.collector(root)
	k.leaks(root)
}

// limb draws what feeds a limb, and the limb over it.
func (k *canvas) limb(l *limb) {
	for _, kid := range l.kids {
		k.limb(kid)
	}
	s := spineOf(l)
	half := l.width / 2
	switch {
	case l.leaf != nil && l.leaf.kind == stubLeaf:
		k.shape("d-thin", s.edge(0, "M", false))
		k.shape("d-bar", fmt.Sprintf("M%.1f %.1fv12", l.x0, l.y0-6))
	case !l.open && l.width <= thin:
		k.shut(l, s)
	default:
		k.channel(l, s, half)
	}
	k.gates(l)
	if l.leaf != nil {
		k.label(l)
	}
}

// shut draws a drop that takes no air: a line, broken where a hose hangs elsewhere or a ring has been cut.
func (k *canvas) shut(l *limb, s spine) {
	class := "d-thin"
	if l.leaf != nil && (l.leaf.port > 0 || l.leaf.kind == ringLeaf) {
		class = "d-thin d-away"
	}
	k.shape(class, s.edge(0, "M", false))
}

// channel draws an open channel with its walls, its air, the doubt about it, its need and its dust.
func (k *canvas) channel(l *limb, s spine, half float64) {
	k.shape("d-duct", s.strip(-half, half))
	if known(l.flow) {
		k.fillAir(l, s, half)
	} else if l.open {
		k.hatched(air, s.strip(-half, half))
	}
	k.shape("d-wall", s.edge(-half, "M", false)+s.edge(half, "M", false))
	if l.leaf != nil && l.leaf.kind == machineLeaf {
		k.hood(l, half)
	}
	if k.settles(l) {
		k.shape("d-dust", s.edge(half-4, "M", false))
	}
}

// fillAir fills the channel from its floor. Where more flows than is needed, a line marks the need.
func (k *canvas) fillAir(l *limb, s spine, half float64) {
	surface := half - l.fill
	k.shape("d-air", s.strip(surface, half))
	if need := l.need * k.scale; l.open && need > 0 && l.fill > need+1 {
		k.shape("d-need", s.edge(half-need, "M", false))
	}
	if l.leaf == nil {
		return
	}
	m, ok := k.p.machine(l.leaf.name)
	if doubt := ninety * m.Flow.SE * k.scale; ok && known(doubt) && doubt >= 0.75 {
		up, down := math.Max(surface-doubt, -half), math.Min(surface+doubt, half)
		k.shape("d-doubt", s.strip(up, down))
		k.shape("d-edge", s.edge(up, "M", false)+s.edge(down, "M", false))
	}
}

// hood flares the channel where the machine's dust enters.
func (k *canvas) hood(l *limb, half float64) {
	k.shape("d-wall", fmt.Sprintf("M%.1f %.1fl-8 -7M%.1f %.1fl-8 7", l.x0, l.y0-half, l.x0, l.y0+half))
}

// settles tells whether dust may settle in any run of the limb.
func (k *canvas) settles(l *limb) bool {
	for _, r := range l.runs {
		if air, ok := k.p.run(r.Name); ok && air.Settles {
			return true
		}
	}
	return false
}

// gates draws the gates of a limb: a bar across where shut, two ends beside the channel where open.
func (k *canvas) gates(l *limb) {
	for i, r := range l.runs {
		if r.Gate == "" {
			continue
		}
		p, n := spineOf(l).near(k.gateAt(l, i))
		stroke := func(from, to float64) string {
			return fmt.Sprintf("M%.1f %.1fL%.1f %.1f", p.x+n.x*from, p.y+n.y*from, p.x+n.x*to, p.y+n.y*to)
		}
		half := l.width/2 + 3
		if k.gateOpen(l, r) {
			k.shape("d-gate", stroke(-half-k.bar, -half)+stroke(half, half+k.bar))
		} else {
			k.shape("d-bar", stroke(-half-k.bar, half+k.bar))
		}
	}
}

// gateAt is how far along a limb a gate is drawn: on the level part of a drop, or in the middle of a run of trunk.
func (k *canvas) gateAt(l *limb, i int) float64 {
	switch {
	case l.leaf == nil:
		return l.x0 + (l.x1-l.x0)*(float64(i)+0.5)/float64(len(l.runs))
	case k.namesAbove: // past the name, and not in the bend, where the gates of two drops would meet
		past := l.x0 + wide(leafName(l.leaf), k.small)
		return math.Min(l.x0+k.lead(), math.Max(past, l.x1-l.bend))
	}
	return l.x0 + k.lead()*(0.4+0.5*float64(i)/float64(len(l.runs)))
}

// gateOpen tells whether a run's gate is open.
func (k *canvas) gateOpen(l *limb, r *shop.Run) bool {
	for _, name := range k.p.Now.Open {
		if name == r.Gate {
			return true
		}
	}
	return l.open && l.leaf != nil
}

// label sets a machine's name, large when it is open, with its air.
func (k *canvas) label(l *limb) {
	x, anchor := k.left-20, "end"
	if k.namesAbove {
		x, anchor = k.left-2, "start"
	}
	if !l.open || l.leaf.kind == ringLeaf {
		y := l.y0 + k.small*0.35
		if k.namesAbove {
			y = l.y0 - l.width/2 - 7
		}
		k.text(x, y, k.small, anchor, "d-shut", leafName(l.leaf))
		return
	}
	figure, class := "", "d-figure"
	if m, ok := k.p.machine(l.leaf.name); ok && k.p.Figure != nil {
		var lacks bool
		if figure, lacks = k.p.Figure(m); lacks {
			class = "d-figure d-short"
		}
	}
	y := l.y0 - 1
	name, room := leafName(l.leaf), k.left-20
	if k.namesAbove {
		y, room = l.y0-l.width/2-17-k.medium, k.right-k.left
	}
	size, before := k.large, ""
	if class != "d-figure" { // said in a word, since an unfilled channel and a colour are not enough
		if wide(name, size)+wide(short, k.medium) <= room {
			before = fmt.Sprintf(`<tspan class="d-short" font-size="%.0f">%s</tspan>`, k.medium, short)
		} else {
			figure = short + figure
		}
	}
	if before == "" {
		size = fitted(name, size, room)
	}
	k.raw(x, y, size, anchor, "d-open", before+html.EscapeString(name))
	k.text(x, y+k.medium+5, fitted(figure, k.medium, room), anchor, class, figure)
}

// short stands before the name of a machine that is short of air, or before its air where there is no room.
const short = "short of air "

// wide returns about how wide words are set, bold, in the units of the size: nothing measures letters on a server. Words of
// a common sans-serif face take 0.55 to 0.62 of its size a letter.
func wide(words string, size float64) float64 {
	return 0.62 * size * float64(utf8.RuneCountInString(words))
}

// fitted returns the size in which words have room.
func fitted(words string, size, room float64) float64 {
	if w := wide(words, size); w > room {
		return math.Floor(size * room / w)
	}
	return size
}

// leafName is what stands at a far end.
func leafName(l *leaf) string {
	switch l.kind {
	case stubLeaf:
		return l.name + " (capped)"
	case ringLeaf:
		return "from " + l.name + " (ring)"
	case bareLeaf:
		if l.name == "" {
			return "open end"
		}
	}
	return l.name
}

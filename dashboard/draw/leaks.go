package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"ductward/internal/estimate"
	"ductward/internal/shop"
)

// shown is the probability from which on a place is drawn: one in ten. The table on the leaks page has them all.
const shown = 0.1

// leaks draws what may leak in at each place where it may be, the likeliest first.
func (k *canvas) leaks(root *limb) {
	zones := slices.Clone(k.p.Leaks)
	slices.SortStableFunc(zones, func(a, b estimate.Zone) int { return cmp.Compare(b.Probability, a.Probability) })
	for _, z := range zones {
		if !(z.Probability >= shown) || !(z.Leakage.V > 0) {
			continue
		}
		parts := z.Members
		if len(parts) == 0 {
			parts = []string{z.Part}
		}
		var at []point
		left, last := false, 0.0
		for _, part := range parts {
			l, x, ok := k.find(root, part)
			if !ok {
				continue
			}
			p, n := spineOf(l).near(x)
			p = point{p.x + n.x*l.width/2, p.y + n.y*l.width/2}
			at = addPoint(at, p)
			if p.x > last { // words go to the right of the last barb, but for a channel that comes down there
				last, left = p.x, n.x < -0.05 && l.width > thin
			}
		}
		k.barbsAt(at, z, left)
	}
}

// addPoint adds a place unless one next to it is there already: the drop and the seat of one gate are one place to look.
func addPoint(at []point, p point) []point {
	for _, q := range at {
		if math.Hypot(p.x-q.x, p.y-q.y) < 16 {
			return at
		}
	}
	return append(at, p)
}

// barbsAt draws one candidate's barbs, with a bracket where it is a group that cannot be told apart.
func (k *canvas) barbsAt(at []point, z estimate.Zone, left bool) {
	if len(at) == 0 {
		return
	}
	for _, p := range at {
		k.barb(p, math.Max(z.Leakage.V*k.scale, 5))
	}
	first, last, head, foot := at[0], at[0], at[0].y, at[0].y
	for _, p := range at[1:] {
		if p.x < first.x {
			first = p
		}
		if p.x > last.x {
			last = p
		}
		head, foot = math.Min(head, p.y), math.Max(foot, p.y)
	}
	k.height = math.Max(k.height, foot+barbLength+k.small)
	if len(at) > 1 && foot-head < 3*barbLength { // over several rows a bracket would say nothing
		k.shape("d-bracket", fmt.Sprintf("M%.1f %.1fv6H%.1fv-6", first.x, foot+barbLength+2, last.x))
	}
	words := fmt.Sprintf("%.0f\u00a0%%", 100*z.Probability)
	x, y := last.x+barbHalf, last.y
	if left {
		x, y = first.x-barbHalf-k.wordWidth(words), first.y
	}
	k.leakWord(x, y+barbLength-k.small, words)
}

// box is the room that words take.
type box struct{ x0, y0, x1, y1 float64 }

// wordWidth is about how wide small words are.
func (k *canvas) wordWidth(words string) float64 { return 0.6 * k.small * float64(len([]rune(words))) }

// leakWord sets a probability beside its barb, or not at all where a likelier one stands: the table has them all.
func (k *canvas) leakWord(x, y float64, words string) {
	x = math.Max(2, math.Min(x, k.width-k.wordWidth(words)-2))
	b := box{x, y, x + k.wordWidth(words), y + k.small}
	for _, o := range k.taken {
		if b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1 {
			return
		}
	}
	k.taken = append(k.taken, b)
	k.text(x, y+k.small-1, k.small, "start", "d-leakword", words)
}

// A barb reaches barbLength from outside to the wall; barbHalf leaves room for its head.
const (
	barbLength = 22
	barbHalf   = 10
)

// barb draws an arrow through the channel's floor, as wide as the air that enters.
func (k *canvas) barb(p point, w float64) {
	k.shape("d-leak", fmt.Sprintf("M%.1f %.1fv-%.1fh-%.1fl%.1f -10l%.1f 10h-%.1fv%.1fZ", p.x-w/2, p.y+barbLength, barbLength-10.0,
		4.0, w/2+4, w/2+4, 4.0, barbLength-10.0))
}

// find locates a qualified part on the drawing: its limb, and where along it.
func (k *canvas) find(l *limb, part string) (*limb, float64, bool) {
	kind, name, _ := strings.Cut(part, ":")
	for i, r := range l.runs {
		switch {
		case kind == "inlet" && r.To.Kind == shop.EndCollector:
			return l, l.x1 - 4, true
		case kind == "run" && r.Name == name && l.leaf != nil:
			return l, l.x0 + k.lead()*0.75, true
		case kind == "run" && r.Name == name:
			return l, l.x0 + (l.x1-l.x0)*(float64(i)+0.5)/float64(len(l.runs)), true
		case (kind == "seat" || kind == "drop") && r.Gate == name:
			return l, k.gateAt(l, i) + 14, true
		}
	}
	if (kind == "open-side" || kind == "blockage") && l.leaf != nil && l.leaf.name == name {
		return l, l.x0 + k.lead()*0.15, true
	}
	for _, kid := range l.kids {
		if m, x, ok := k.find(kid, part); ok {
			return m, x, true
		}
	}
	return nil, 0, false
}

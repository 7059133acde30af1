package draw

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/estimate"
)

// shown is the probability from which on a place is drawn: one in twenty.
const shown = 0.05

// leaks draws what may leak in, at each place where it may be.
func (k *canvas) leaks(root *limb) {
	for _, z := range k.p.Leaks {
		if z.Probability < shown || !(z.Leakage.V > 0) {
			continue
		}
		parts := z.Members
		if len(parts) == 0 {
			parts = []string{z.Part}
		}
		var at []point
		for _, part := range parts {
			if l, x, y, ok := k.find(root, part); ok {
				at = append(at, point{x, y + l.width/2})
			}
		}
		k.barbsAt(at, z)
	}
}

// barbsAt draws one candidate's barbs, with a bracket where it is a group that cannot be told apart.
func (k *canvas) barbsAt(at []point, z estimate.Zone) {
	if len(at) == 0 {
		return
	}
	for _, p := range at {
		k.barb(p, math.Max(z.Leakage.V*k.scale, 5))
	}
	low, high, foot := at[0].x, at[0].x, at[0].y
	for _, p := range at[1:] {
		low, high, foot = math.Min(low, p.x), math.Max(high, p.x), math.Max(foot, p.y)
	}
	y := foot + barbLength + 5
	if len(at) > 1 {
		k.shape("d-bracket", fmt.Sprintf("M%.1f %.1fv6H%.1fv-6", low, y, high))
		y += 6
	}
	k.text((low+high)/2, y+k.small, k.small, "middle", "d-leakword", fmt.Sprintf("%.0f %%", 100*z.Probability))
}

// barbLength is how far a barb reaches from outside to the wall.
const barbLength = 22

// barb draws an arrow through the channel's floor, as wide as the air that enters.
func (k *canvas) barb(p point, w float64) {
	k.shape("d-leak", fmt.Sprintf("M%.1f %.1fv-%.1fh-%.1fl%.1f -10l%.1f 10h-%.1fv%.1fZ", p.x-w/2, p.y+barbLength, barbLength-10.0,
		4.0, w/2+4, w/2+4, 4.0, barbLength-10.0))
}

// find locates a qualified part on the drawing: its limb, and the point on the limb's axis.
func (k *canvas) find(l *limb, part string) (*limb, float64, float64, bool) {
	kind, name, _ := strings.Cut(part, ":")
	for i, r := range l.runs {
		switch {
		case kind == "run" && r.Name == name:
			x := l.x0 + (l.x1-l.x0)*(float64(i)+0.5)/float64(len(l.runs))
			if l.leaf != nil {
				x = l.x0 + k.lead()*0.75
			}
			return l, x, l.y0, true
		case kind == "seat" && r.Gate == name, kind == "drop" && r.Gate == name:
			x, y := k.gateAt(l, i)
			return l, x + 14, y, true
		}
	}
	if (kind == "open-side" || kind == "blockage") && l.leaf != nil && l.leaf.name == name {
		return l, l.x0 + k.lead()*0.15, l.y0, true
	}
	for _, kid := range l.kids {
		if m, x, y, ok := k.find(kid, part); ok {
			return m, x, y, true
		}
	}
	return nil, 0, 0, false
}

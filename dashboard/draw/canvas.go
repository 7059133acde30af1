package draw

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// canvas collects the picture's elements. Letters go over everything else.
type canvas struct {
	Shape
	p       *Picture
	scale   float64 // units of width for 1 m³/s
	top     float64
	axis    float64            // height of the trunk
	height  float64            // of the whole picture
	layers  [3]strings.Builder // ducts, air, ink: in layers, so that no seam shows where channels meet
	letters strings.Builder
	taken   []box // where words about leaks stand
}

// point is a place in the picture.
type point struct{ x, y float64 }

// finish puts the frame around everything.
func (k *canvas) finish() string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="drawing d-%s" viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">`, k.name, k.width, k.height, html.EscapeString(k.p.Title))
	fmt.Fprintf(&b, `<defs><pattern id="%s" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="2.5" height="9" class="d-stripe"/></pattern></defs>`, k.hatchID())
	if k.p.Stale { // beneath, so that what was so then can still be read
		fmt.Fprintf(&b, `<rect width="%.0f" height="%.0f" fill="url(#%s)"/>`, k.width, k.height, k.hatchID())
	}
	for i := range k.layers {
		b.WriteString(k.layers[i].String())
	}
	b.WriteString(k.letters.String())
	b.WriteString("</svg>")
	return b.String()
}

// hatchID names the hatching: each picture has its own, since a hidden picture's would not show.
func (k *canvas) hatchID() string { return "hatch-" + k.name + k.p.ID }

// text sets words.
func (k *canvas) text(x, y, size float64, anchor, class, words string) {
	if words != "" {
		k.raw(x, y, size, anchor, class, html.EscapeString(words))
	}
}

// raw sets words that have been escaped already.
func (k *canvas) raw(x, y, size float64, anchor, class, words string) {
	fmt.Fprintf(&k.letters, `<text x="%.1f" y="%.1f" font-size="%.0f" text-anchor="%s" class="%s">%s</text>`, x, y, size, anchor, class, words)
}

// The layers, lowest first.
const (
	ducts = iota
	air
	ink
)

// shape adds a filled or stroked path.
func (k *canvas) shape(class, d string) {
	layer := ink
	switch class {
	case "d-duct":
		layer = ducts
	case "d-air", "d-doubt":
		layer = air
	}
	fmt.Fprintf(&k.layers[layer], `<path class="%s" d="%s"/>`, class, d)
}

// hatched adds a path filled with "cannot tell" to a layer.
func (k *canvas) hatched(layer int, d string) {
	fmt.Fprintf(&k.layers[layer], `<path fill="url(#%s)" d="%s"/>`, k.hatchID(), d)
}

// spine is the centre line of a channel with its unit normals, which point to the floor.
type spine struct {
	at     []point
	normal []point
}

// seam is how far channels overlap where they meet.
const seam = 0.7

// bendSteps is how many straight pieces make a bend: enough that no corner shows.
const bendSteps = 18

// newSpine runs level from (x0, y0) and bends over the length given so that it arrives level at (x1, y1), and a hair
// further, so that no seam shows where two channels meet.
func newSpine(x0, y0, x1, y1, bend float64) spine {
	var s spine
	x1 += seam
	rise := math.Abs(y1 - y0)
	if rise < 0.5 {
		s.at = []point{{x0, y0}, {x1, y1}}
		s.normal = []point{{0, 1}, {0, 1}}
		return s
	}
	run := math.Min(bend, math.Max(x1-x0-4, 4))
	b := x1 - run
	s.at, s.normal = append(s.at, point{x0, y0}), append(s.normal, point{0, 1})
	for i := 0; i <= bendSteps; i++ {
		t := float64(i) / bendSteps
		// A cubic with level ends: x goes evenly but for its ends, y as 3t²−2t³.
		x := b + run*(0.5*3*t*(1-t)*(1-t)+0.5*3*t*t*(1-t)+t*t*t)
		y := y0 + (y1-y0)*t*t*(3-2*t)
		dx := run * (1.5 - 3*t + 3*t*t)
		dy := (y1 - y0) * 6 * t * (1 - t)
		n := math.Hypot(dx, dy)
		s.at, s.normal = append(s.at, point{x, y}), append(s.normal, point{-dy / n, dx / n})
	}
	return s
}

// edge is the line at a distance from the spine, towards the floor, as path commands.
func (s spine) edge(d float64, first string, back bool) string {
	var b strings.Builder
	for i := range s.at {
		j := i
		if back {
			j = len(s.at) - 1 - i
		}
		verb := "L"
		if i == 0 {
			verb = first
		}
		fmt.Fprintf(&b, "%s%.1f %.1f", verb, s.at[j].x+s.normal[j].x*d, s.at[j].y+s.normal[j].y*d)
	}
	return b.String()
}

// strip is the closed space between two distances from the spine.
func (s spine) strip(d1, d2 float64) string {
	return s.edge(d1, "M", false) + s.edge(d2, "L", true) + "Z"
}

// near is the point of the spine at x, with its normal.
func (s spine) near(x float64) (p, n point) {
	for i := 1; i < len(s.at); i++ {
		a, b := s.at[i-1], s.at[i]
		if x > b.x && i < len(s.at)-1 || b.x <= a.x {
			continue
		}
		t := math.Max(0, math.Min(1, (x-a.x)/(b.x-a.x)))
		m, o := s.normal[i-1], s.normal[i]
		n = point{m.x + t*(o.x-m.x), m.y + t*(o.y-m.y)}
		size := math.Hypot(n.x, n.y)
		return point{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)}, point{n.x / size, n.y / size}
	}
	return s.at[len(s.at)-1], s.normal[len(s.normal)-1]
}

// spineOf is the spine of a limb that has its place.
func spineOf(l *limb) spine { return newSpine(l.x0, l.y0, l.x1, l.y1, l.bend) }

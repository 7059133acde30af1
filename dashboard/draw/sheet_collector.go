package draw

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/shop"
)

// part is one part of the collector on the sheet: its sign, and the words below it.
type part struct {
	kind  partKind
	words []string
	x     float64 // of its middle
}

type partKind int

const (
	inletPart partKind = iota
	separatorPart
	filterPart
	fanPart
)

const (
	partHalf = 34.0 // half the height of the largest sign
	partGap  = 24.0
)

// parts lists what the air passes from the ducts' end on, each with its words.
func (k *sheet) parts() []part {
	say := func(v float64, name string) []string {
		if known(v) {
			return []string{name, k.Figures.pressure(v)}
		}
		return []string{name}
	}
	fan := part{kind: fanPart, words: say(k.Plant.Rise, "fan")}
	switch {
	case !k.Now.FanOn:
		fan.words = []string{"fan", "off"}
	case known(k.Now.Flow.V):
		fan.words = append(fan.words, k.Figures.flow(k.Now.Flow.V))
	}
	filter := part{kind: filterPart, words: say(k.Plant.Filter, "filter")}
	var out []part
	if known(k.Plant.Inlet) {
		out = append(out, part{kind: inletPart, words: say(k.Plant.Inlet, "inlet")})
	}
	if s := k.Collector.Separator; s != nil {
		name := "separator"
		if s.Name != "" {
			name = k.shorten(s.Name)
		}
		out = append(out, part{kind: separatorPart, words: say(k.Plant.Separator, name)})
	}
	if k.Collector.Fan.Position == shop.FanBeforeFilter {
		return append(out, fan, filter)
	}
	return append(out, filter, fan)
}

// placeParts sets the parts in a line from x on and returns where the last one ends.
func (k *sheet) placeParts(x float64) ([]part, float64) {
	parts := k.parts()
	for i := range parts {
		w := 56.0
		for _, line := range parts[i].words {
			w = math.Max(w, textWidth(line, sheetFigure, false))
		}
		parts[i].x = x + w/2
		x += w + partGap
	}
	return parts, x
}

// partsFrom is where the collector's parts begin.
func (k *sheet) partsFrom(b *bough) float64 {
	if b.single() {
		return b.right + partGap
	}
	return b.out + k.outWidth(b.chain[0]) + partGap
}

// collector draws the way of the air from the last joint through the collector's parts and out.
func (k *sheet) collector(b *bough) {
	parts, end := k.placeParts(k.partsFrom(b))
	way := []point{{k.left, b.y}, {parts[len(parts)-1].x, b.y}}
	if !b.single() {
		way = append([]point{{b.x, b.from[0]}, {b.x, b.y}}, way[1])
	}
	k.ducts(b.chain[0], way, k.joints(b.chain[0], b.y, k.outStarts(b)))
	for _, p := range parts {
		k.sign(p, b.y, b.chain[0].width)
		for i, words := range p.words {
			k.text(p.x, b.y+partHalf+float64(i+1)*sheetLine, sheetFigure, "middle", "d-figure", words)
		}
	}
	from := parts[len(parts)-1].x + 34
	k.ink("s-arrow", "M%.1f %.1fH%.1fm-7 -5l7 5l-7 5", from, b.y, math.Max(end, from+24))
}

// sign draws one part of the collector.
func (k *sheet) sign(p part, y, width float64) {
	switch p.kind {
	case inletPart:
		k.ink("s-joint", "M%.1f %.1fv%.1f", p.x, y-width/2-8, width+16)
	case separatorPart: // a cone with its bin
		k.ink("d-part", "M%.1f %.1fh40v34l-14 16h-12l-14 -16Z", p.x-20, y-20)
	case filterPart:
		k.ink("d-part", "M%.1f %.1fh56v%.1fh-56Z", p.x-28, y-partHalf, 2*partHalf)
		var teeth strings.Builder
		for i := range 5 {
			fmt.Fprintf(&teeth, "M%.1f %.1fh6v%.1fh-6Z", p.x-24+10.5*float64(i), y-partHalf+8, 2*partHalf-14)
		}
		k.ink("d-tooth", "%s", teeth.String())
	case fanPart:
		k.wheel(p.x, y)
	}
}

// wheel draws the fan, filled while it runs.
func (k *sheet) wheel(x, y float64) {
	const r = 26.0
	class := "d-wheel"
	if k.Now.FanOn {
		class = "d-wheel d-runs"
	}
	fmt.Fprintf(&k.layers[sheetInk], `<circle class="d-part" cx="%.1f" cy="%.1f" r="%.1f"/>`, x, y, r)
	fmt.Fprintf(&k.layers[sheetInk], `<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f"/>`, class, x, y, 0.82*r)
	var blades strings.Builder
	for i := range 3 {
		a := 2*math.Pi*float64(i)/3 - math.Pi/2
		fmt.Fprintf(&blades, "M%.1f %.1fQ%.1f %.1f %.1f %.1f", x, y, x+0.6*r*math.Cos(a-0.6), y+0.6*r*math.Sin(a-0.6), x+0.7*r*math.Cos(a), y+0.7*r*math.Sin(a))
	}
	k.ink("d-blade", "%s", blades.String())
}

package draw

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/shop"
)

// station is the place of one part of the collector along the axis.
type station struct{ x, width float64 }

// stations are the places of separator, comb and fan; the fan stands where the shop has it.
func (k *canvas) stations() (separator, comb, fan station) {
	u := k.width - k.right // what is left of the picture
	separator = station{k.right + 0.1*u, 0.15 * u}
	comb, fan = station{k.right + 0.33*u, 0.4 * u}, station{k.right + 0.8*u, 0.17 * u}
	if k.p.Collector.Fan.Position == shop.FanBeforeFilter {
		fan, comb = station{k.right + 0.32*u, 0.17 * u}, station{k.right + 0.56*u, 0.4 * u}
	}
	return separator, comb, fan
}

// blockHeight is the height of the comb.
func (k *canvas) blockHeight() float64 {
	if k.namesAbove {
		return 110
	}
	return 210
}

// footRoom is the room for the words below the comb.
func (k *canvas) footRoom() float64 { return 3 * (k.medium + 6) }

// collector draws separator, filter and fan, joined by pipes as wide as the trunk and as full.
func (k *canvas) collector(root *limb) {
	separator, comb, fan := k.stations()
	last := math.Max(comb.x+comb.width/2, fan.x)
	pipe := *root
	pipe.x0, pipe.x1, pipe.y0, pipe.y1, pipe.leaf, pipe.runs = k.right, last, k.axis, k.axis, nil, nil
	k.channel(&pipe, newSpine(k.right, k.axis, last, k.axis, 0), root.width/2)
	if k.p.Collector.Separator != nil {
		k.separator(separator, root.width)
	}
	k.comb(comb)
	k.fan(fan, root.width)
	if !k.namesAbove {
		k.text(k.width-4, k.axis-k.blockHeight()/2-10, k.medium, "end", "d-figure", k.p.Flow)
	}
}

// separator draws a cyclone with its bin below.
func (k *canvas) separator(s station, trunk float64) {
	top, half := k.axis-trunk/2-10, trunk/2+10
	cone := math.Max(26, s.width*0.9)
	mid := s.x + s.width/2
	k.shape("d-part", fmt.Sprintf("M%.1f %.1fh%.1fV%.1fL%.1f %.1fh-10L%.1f %.1fZ", s.x, top, s.width, k.axis+half, mid+5, k.axis+half+cone, s.x, k.axis+half))
	bin := s.width * 0.7
	k.shape("d-part", fmt.Sprintf("M%.1f %.1fh%.1fv%.1fh-%.1fZ", mid-bin/2, k.axis+half+cone, bin, bin*0.8, bin))
}

// comb draws the filter: teeth that fill up to the mark at which it must be cleaned.
func (k *canvas) comb(s station) {
	h := k.blockHeight()
	top := k.axis - h/2
	k.shape("d-part", fmt.Sprintf("M%.1f %.1fh%.1fv%.1fh-%.1fZ", s.x, top, s.width, h, s.width))
	f := k.p.Filter
	full := combScale(f)
	level := func(ratio float64) float64 { return top + h - 6 - (h-16)*math.Min(ratio/full, 1) }
	n := 7
	if k.namesAbove {
		n = 5
	}
	pitch := s.width / float64(n)
	var teeth, dust strings.Builder
	for i := range n {
		x := s.x + pitch*(float64(i)+0.2)
		fmt.Fprintf(&teeth, "M%.1f %.1fh%.1fV%.1fh-%.1fZ", x, top+h-6, pitch*0.6, top+10, pitch*0.6)
		if known(f.Now) {
			fmt.Fprintf(&dust, "M%.1f %.1fh%.1fV%.1fh-%.1fZ", x, top+h-6, pitch*0.6, level(f.Now), pitch*0.6)
		}
	}
	k.shape("d-tooth", teeth.String())
	if known(f.Now) {
		k.shape("d-cake", dust.String())
	} else {
		k.hatched(ink, teeth.String())
	}
	k.combLines(s, f, level)
	k.words(s, top+h)
}

// combScale is the ratio at which the teeth are full to the top: somewhat over the mark.
func combScale(f Filter) float64 {
	full := 2.0
	if known(f.Due) && f.Due > 0 {
		full = 1.15 * f.Due
	}
	if known(f.Now) {
		full = math.Max(full, 1.05*f.Now)
	}
	return full
}

// combLines draws the doubt about the level, what the last cleaning left, and the mark.
func (k *canvas) combLines(s station, f Filter, level func(float64) float64) {
	if known(f.Low) && known(f.High) && level(f.Low)-level(f.High) >= 1.5 {
		k.shape("d-edge", fmt.Sprintf("M%.1f %.1fh%.1fM%.1f %.1fh%.1f", s.x+3, level(f.Low), s.width-6, s.x+3, level(f.High), s.width-6))
	}
	if known(f.Emptied) {
		k.shape("d-emptied", fmt.Sprintf("M%.1f %.1fh%.1f", s.x+3, level(f.Emptied), s.width-6))
	}
	if !known(f.Due) || f.Due <= 0 {
		return
	}
	y := level(f.Due)
	k.shape("d-due", fmt.Sprintf("M%.1f %.1fh%.1f", s.x-6, y, s.width+12))
	k.shape("d-notch", fmt.Sprintf("M%.1f %.1fl-9 -6v12ZM%.1f %.1fl9 -6v12Z", s.x, y, s.x+s.width, y))
}

// words sets the words below the comb, one line after another, to the picture's right edge; where names stand above the
// channels, below everything.
func (k *canvas) words(s station, foot float64) {
	size := k.medium
	lines := strings.Split(k.p.Filter.Words, "\n")
	if k.namesAbove && k.p.Flow != "" { // above the comb it would run into the machines' names
		lines = append([]string{k.p.Flow}, lines...)
	}
	if k.namesAbove {
		foot = k.height - k.footRoom() - 8
	}
	for i, line := range lines {
		k.text(k.width-4, foot+8+float64(i+1)*(size+4), size, "end", "d-figure", line)
	}
}

// fan draws the fan's wheel, filled while it runs.
func (k *canvas) fan(s station, trunk float64) {
	r := s.width / 2
	x, class, word := s.x+r, "d-wheel", "off"
	if k.p.Now.FanOn {
		class, word = "d-wheel d-runs", "on"
	}
	fmt.Fprintf(&k.layers[ink], `<circle class="d-part" cx="%.1f" cy="%.1f" r="%.1f"/>`, x, k.axis, r)
	fmt.Fprintf(&k.layers[ink], `<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f"/>`, class, x, k.axis, 0.82*r)
	var blades strings.Builder
	for i := range 3 {
		a := 2*math.Pi*float64(i)/3 - math.Pi/2
		fmt.Fprintf(&blades, "M%.1f %.1fQ%.1f %.1f %.1f %.1f", x, k.axis, x+0.6*r*math.Cos(a-0.6), k.axis+0.6*r*math.Sin(a-0.6),
			x+0.7*r*math.Cos(a), k.axis+0.7*r*math.Sin(a))
	}
	k.shape("d-blade", blades.String())
	foot := k.axis + math.Max(r, trunk/2)
	k.text(x, foot+k.small+3, k.small, "middle", "d-shut", "fan")
	k.text(x, foot+2*k.small+5, k.small, "middle", "d-shut", word)
}

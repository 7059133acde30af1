package plot

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"
	"time"
)

// The still picture's size and margins, in its own units.
const (
	stillWidth  = 900.0
	stillHeight = 320.0
	marginLeft  = 70.0
	marginRight = 16.0
	marginTop   = 30.0
	marginFoot  = 34.0
	letter      = 7.0 // about how wide one letter of a label is
)

// still draws one chart as SVG.
type still struct {
	c          *Chart
	b          strings.Builder
	low, high  float64
	levels     []float64
	decimals   int
	ticks      []tick
	begin, end float64 // unix seconds
}

// Still returns the chart as an SVG picture without script, style or outside reference. Its classes are those of the
// style sheet.
func (c *Chart) Still() template.HTML {
	s := &still{c: c}
	low, high := c.reach()
	s.levels, s.decimals = levels(low, high, 5)
	s.low, s.high = s.levels[0], s.levels[len(s.levels)-1]
	s.begin, s.end = float64(c.From.Unix()), float64(c.To.Unix())
	s.ticks = timeTicks(c.From, c.To, c.location(), 8)
	fmt.Fprintf(&s.b, `<svg class="still" viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">`, stillWidth, stillHeight, html.EscapeString(c.Title))
	s.axes()
	for i := range c.Lines {
		s.band(&c.Lines[i])
	}
	s.marks()
	for i := range c.Lines {
		s.line(&c.Lines[i])
	}
	s.events()
	s.b.WriteString("</svg>")
	return template.HTML(s.b.String()) // every text in it has been escaped
}

// x places a time.
func (s *still) x(t time.Time) float64 {
	if s.end <= s.begin {
		return marginLeft
	}
	f := (float64(t.UnixMilli())/1000 - s.begin) / (s.end - s.begin)
	return marginLeft + math.Max(0, math.Min(1, f))*(stillWidth-marginLeft-marginRight)
}

// y places a value.
func (s *still) y(v float64) float64 {
	f := (v - s.low) / (s.high - s.low)
	return stillHeight - marginFoot - f*(stillHeight-marginFoot-marginTop)
}

// axes draws the levels with their labels, the unit above them, and the time axis.
func (s *still) axes() {
	for _, v := range s.levels {
		fmt.Fprintf(&s.b, `<path class="p-grid" d="M%.0f %.1fH%.0f"/><text class="p-label" x="%.0f" y="%.1f" text-anchor="end">%s</text>`,
			marginLeft, s.y(v), stillWidth-marginRight, marginLeft-8, s.y(v)+4.5, label(v, s.decimals))
	}
	fmt.Fprintf(&s.b, `<text class="p-label" x="4" y="16">%s</text>`, html.EscapeString(s.c.Unit))
	foot := stillHeight - marginFoot
	fmt.Fprintf(&s.b, `<path class="p-axis" d="M%.0f %.0fH%.0f"/>`, marginLeft, foot, stillWidth-marginRight)
	room := marginLeft - 20
	for _, t := range s.ticks {
		x := s.x(t.at)
		fmt.Fprintf(&s.b, `<path class="p-axis" d="M%.1f %.0fv6"/>`, x, foot)
		half := float64(len(t.text)) * letter / 2
		if x-half < room || x+half > stillWidth {
			continue // it would run into its neighbour or out of the picture
		}
		room = x + half + letter
		fmt.Fprintf(&s.b, `<text class="p-label" x="%.1f" y="%.0f" text-anchor="middle">%s</text>`, x, foot+22, html.EscapeString(t.text))
	}
}

// stretches cuts a line at its gaps.
func stretches(points []Point) [][]Point {
	var out [][]Point
	begin := -1
	for i := range points {
		switch {
		case known(points[i].V) && begin < 0:
			begin = i
		case !known(points[i].V) && begin >= 0:
			out = append(out, points[begin:i])
			begin = -1
		}
	}
	if begin >= 0 {
		out = append(out, points[begin:])
	}
	return out
}

// band draws the space between Lo and Hi; the edge of an uncertainty is doubled.
func (s *still) band(l *Line) {
	if l.Band == NoBand {
		return
	}
	for _, part := range stretches(l.Points) {
		var top, foot strings.Builder
		for i, p := range part {
			if !known(p.Lo) || !known(p.Hi) {
				p.Lo, p.Hi = p.V, p.V
			}
			verb := "L"
			if i == 0 {
				verb = "M"
			}
			fmt.Fprintf(&top, "%s%.1f %.1f", verb, s.x(p.At), s.y(p.Hi))
			q := part[len(part)-1-i]
			if !known(q.Lo) || !known(q.Hi) {
				q.Lo = q.V
			}
			fmt.Fprintf(&foot, "L%.1f %.1f", s.x(q.At), s.y(q.Lo))
		}
		fmt.Fprintf(&s.b, `<path class="p-band p-%s" d="%s%sZ"/>`, l.Tone, top.String(), foot.String())
		if l.Band == Spread {
			edge := "M" + foot.String()[1:]
			fmt.Fprintf(&s.b, `<path class="p-edge p-%s" d="%s%s"/>`, l.Tone, top.String(), edge)
		}
	}
}

// line draws the values, with gaps left open and a lonely value as a dot.
func (s *still) line(l *Line) {
	class := "p-line p-" + string(l.Tone)
	if l.Dotted {
		class += " p-dotted"
	}
	for _, part := range stretches(l.Points) {
		if len(part) == 1 || l.Dots {
			for _, p := range part {
				fmt.Fprintf(&s.b, `<circle class="p-dot p-%s" cx="%.1f" cy="%.1f" r="2.5"/>`, l.Tone, s.x(p.At), s.y(p.V))
			}
		}
		var d strings.Builder
		for i, p := range part {
			switch {
			case i == 0:
				fmt.Fprintf(&d, "M%.1f %.1f", s.x(p.At), s.y(p.V))
			case l.Step:
				fmt.Fprintf(&d, "H%.1fV%.1f", s.x(p.At), s.y(p.V))
			default:
				fmt.Fprintf(&d, "L%.1f %.1f", s.x(p.At), s.y(p.V))
			}
		}
		fmt.Fprintf(&s.b, `<path class="%s" d="%s"/>`, class, d.String())
	}
}

// marks draws the levels that mean something, each with its words.
func (s *still) marks() {
	for _, m := range s.c.Marks {
		if !known(m.V) {
			continue
		}
		fmt.Fprintf(&s.b, `<path class="p-mark p-%s" d="M%.0f %.1fH%.0f"/><text class="p-words" x="%.0f" y="%.1f" text-anchor="end">%s</text>`,
			m.Tone, marginLeft, s.y(m.V), stillWidth-marginRight, stillWidth-marginRight-4, s.y(m.V)-6, html.EscapeString(m.Text))
	}
}

// eventRows is how many rows of words may stand over the time axis. Where they are full only the tick is drawn; the
// table below the chart has the words.
const eventRows = 3

// events draws what happened as ticks on the time axis, with words where there is room.
func (s *still) events() {
	foot := stillHeight - marginFoot
	var taken [eventRows]float64
	for _, e := range s.c.Events {
		if e.At.Before(s.c.From) || e.At.After(s.c.To) {
			continue
		}
		x := s.x(e.At)
		width := float64(len([]rune(e.Text))) * letter
		row := 0
		for row < eventRows && taken[row] > x {
			row++
		}
		fmt.Fprintf(&s.b, `<path class="p-event" d="M%.1f %.0fV%.0f"/>`, x, foot+6, foot-10-float64(min(row, eventRows-1))*15)
		if row == eventRows {
			continue
		}
		at, anchor := x+4, "start"
		if at+width > stillWidth-marginRight {
			at, anchor = x-4, "end"
		}
		taken[row] = x + width + 10
		fmt.Fprintf(&s.b, `<text class="p-words" x="%.1f" y="%.0f" text-anchor="%s">%s</text>`, at, foot-6-float64(row)*15, anchor, html.EscapeString(e.Text))
	}
}

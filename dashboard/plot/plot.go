// Package plot holds one chart of numbers over time, and draws it twice from the same data: as options for the chart
// script, and as a still picture that needs no script and goes to paper.
//
// Time runs to the right, a gap in the record stays a gap, a doubled edge around a line is its uncertainty, a plain band
// is the range that was seen, and what happened stands as ticks on the time axis with words. Colours are named, not
// numbered: the style sheet and the script turn the names into those of the light or the dark scheme.
//
// Values are in the unit that is shown, already rounded to what their spread supports; times are absolute, and are
// labelled in Location.
package plot

import (
	"math"
	"time"
)

// Tone names a colour by what it says.
type Tone string

// The tones.
const (
	Air   Tone = "air"
	Ink   Tone = "ink"
	Muted Tone = "muted"
	Plan  Tone = "plan"
	Act   Tone = "act"
)

// Band says what the space between a point's Lo and Hi means.
type Band int

// The meanings of a band.
const (
	NoBand Band = iota
	Spread      // the uncertainty of the value: doubled edge
	Range       // what was seen within the point's span: plain
)

// Chart is one question with its answer over time.
type Chart struct {
	Title    string // the question
	Unit     string // stands at the axis
	From, To time.Time
	Location *time.Location // of the labels; nil: UTC
	Lines    []Line
	Marks    []Mark
	Events   []Event
	Zero     bool // the axis reaches down (or up) to zero
	One      bool // and to one: what is drawn is a switch
}

// Line is one row of points, by rising time.
type Line struct {
	Name   string
	Tone   Tone
	Band   Band
	Dotted bool // what is expected, not what was read
	Step   bool // holds its value until the next point
	Dots   bool // a dot at each point, for few and far ones
	Points []Point
}

// Point is one value. V is NaN where there is a gap; Lo and Hi count if the line has a band.
type Point struct {
	At        time.Time
	V, Lo, Hi float64
	Text      string // the value as it is read: "3.1 ± 0.4 m³/h"
}

// Mark is a level with its meaning.
type Mark struct {
	V    float64
	Text string
	Tone Tone
}

// Event is something that happened.
type Event struct {
	At   time.Time
	Text string
}

// Empty tells whether there is not one value to draw.
func (c *Chart) Empty() bool {
	for _, l := range c.Lines {
		for _, p := range l.Points {
			if known(p.V) {
				return false
			}
		}
	}
	return true
}

// known tells whether a number is one.
func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// location is where the labels' times are.
func (c *Chart) location() *time.Location {
	if c.Location == nil {
		return time.UTC
	}
	return c.Location
}

// reach is the span of the values that must be seen, bands and marks included.
func (c *Chart) reach() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	take := func(v float64) {
		if known(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	for _, l := range c.Lines {
		for _, p := range l.Points {
			if !known(p.V) {
				continue
			}
			take(p.V)
			if l.Band != NoBand {
				take(p.Lo)
				take(p.Hi)
			}
		}
	}
	for _, m := range c.Marks {
		take(m.V)
	}
	if c.Zero {
		take(0)
	}
	if c.One {
		take(1)
	}
	if low > high {
		return 0, 1
	}
	return low, high
}

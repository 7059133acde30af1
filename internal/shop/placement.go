package shop

import (
	"fmt"
	"math"

	"ductward/internal/quantity"
)

// How much straight duct a tap wants before it, in diameters. Behind a hood: US Unified Facilities Guide Specifications,
// section 15951, which asks for 3 behind a plain one at least; velocity pressure wants 7.5 behind whatever disturbs the
// air (the same). For a static tap behind an elbow or a junction there is no source; 3 as behind a hood are taken.
const (
	straightStatic   = 3.0
	straightVelocity = 7.5
)

// TapAdvice is what is to be said about the place of one tap.
type TapAdvice struct {
	Sensor   string
	Straight float64 // m of straight duct before the tap, at most
	Wanted   float64 // m
	Behind   string  // what disturbs the air there, as "the elbow of run …"
	Line     int     // of the sensor in the file
}

// Text says it, with what to do.
func (a TapAdvice) Text() string {
	straight := "no straight duct"
	if a.Straight > 0 {
		straight = "at most " + plain(quantity.Length, rounded(a.Straight), "m") + " of straight duct"
	}
	return fmt.Sprintf("sensor %q: its tap has %s before it, behind %s, where %s are wanted: what it reads depends on how the air swirls there, and so on the gates; move it towards the fan if you can",
		a.Sensor, straight, a.Behind, plain(quantity.Length, rounded(a.Wanted), "m"))
}

// rounded keeps two decimals.
func rounded(x float64) float64 { return math.Round(x*100) / 100 }

// TapAdvice tells which taps the drawing shows to be too close behind an elbow, a junction or whatever else disturbs the
// air. A drawing says in which order fittings come in a run and not where, so that the distances are the largest that
// there can be: a tap that is not named may still be too close.
func (c *Collector) TapAdvice() []TapAdvice {
	if c.Network == nil {
		return nil
	}
	var all []TapAdvice
	for _, s := range c.Sensors {
		r, end := c.tapRun(s)
		if r == nil {
			continue
		}
		wanted := straightStatic * r.Diameter
		if s.Measures == VelocityPressure {
			wanted = straightVelocity * r.Diameter
		}
		if straight, behind := c.straightBefore(r, end); straight < wanted*(1-1e-9) {
			all = append(all, TapAdvice{s.Name, straight, wanted, behind, s.Line})
		}
	}
	return all
}

// tapRun returns the run that a tap sits in, and whether at its end. Nil: it has none that is drawn.
func (c *Collector) tapRun(s *Sensor) (*Run, bool) {
	if s.Measures != StaticPressure && s.Measures != VelocityPressure {
		return nil, false
	}
	if s.Run != "inlet" {
		return c.Run(s.Run), s.TapAt == AtEnd
	}
	for _, r := range c.Network.Runs {
		if r.To.Kind == EndCollector {
			return r, true
		}
	}
	return nil, false
}

// straightBefore returns the most straight duct that there can be before a tap, and what lies behind it.
func (c *Collector) straightBefore(r *Run, end bool) (float64, string) {
	length := 0.0
	if end {
		length = r.Length
		if what := disturbs(r); what != "" {
			return length, "the " + what + " of run " + r.Name
		}
	}
	for range c.Network.Runs { // a ring must not be walked for ever
		before := c.runInto(r)
		switch {
		case before == nil:
			return length, c.beginning(r)
		case math.Abs(before.Diameter-r.Diameter) > 0.01*r.Diameter:
			return length, "the change of diameter from run " + before.Name
		}
		length += before.Length
		if what := disturbs(before); what != "" {
			return length, "the " + what + " of run " + before.Name
		}
		r = before
	}
	return length, "its own beginning"
}

// runInto returns the run that leads straight into another; nil where a junction, a selector or a hood does.
func (c *Collector) runInto(r *Run) *Run {
	if r.From.Kind != EndNone && r.From.Kind != EndRun {
		return nil
	}
	for _, b := range c.Network.Runs {
		if b.To.Kind == EndRun && b.To.Name == r.Name {
			return b
		}
	}
	return nil
}

// beginning names what a run begins at.
func (c *Collector) beginning(r *Run) string {
	switch r.From.Kind {
	case EndMachine:
		return "the hood of " + r.From.Name
	case EndJunction:
		return "the junction " + r.From.Name
	case EndSelector:
		return "the selector " + r.From.Name
	}
	return "the beginning of run " + r.Name
}

// disturbs names the last thing in a run that disturbs the air; "" for none. A stated loss may be anything, and counts.
func disturbs(r *Run) string {
	for i := len(r.Fittings) - 1; i >= 0; i-- {
		switch f := r.Fittings[i]; f.Kind {
		case Elbow:
			return "elbow"
		case Contraction, Expansion:
			return "change of diameter"
		case Screen:
			return "screen"
		case Entry:
			return "entry"
		case FixedLoss, MeasuredLoss:
			return "fitting"
		}
	}
	if r.Gate != "" {
		return "gate"
	}
	return ""
}

package dashboard

import (
	"html/template"
	"math"
	"strings"

	"ductward/dashboard/draw"
	"ductward/internal/estimate"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// likely is the probability from which on a place of new leakage is told in the drawing: one in ten. The leaks page has
// them all.
const likely = 0.1

// sheet draws a collector's ducts with the figures of every run, for the gates as they are. Empty: there is no drawing.
func (s *server) sheet(c *watch.Collector, st state, id string) template.HTML {
	plan := s.collectorPlan(c.Name)
	if plan == nil || plan.Network == nil {
		return ""
	}
	leaks, notes := sheetLeaks(c)
	sheet := draw.Sheet{Collector: plan, Now: c.Now, Plant: draw.UnknownPlant(), Leaks: leaks, Notes: notes, Stale: st.Stale || st.At.IsZero(), ID: id,
		Title:   "The ducts with the air in each run, which the table below tells as well. " + st.Sentence,
		Heading: []string{"The gates as they are", openWords(plan, &c.Now)}, Figures: s.sheetFigures(c)}
	return sheet.SVG()
}

// openWords says which machines are open.
func openWords(plan *shop.Collector, n *estimate.Now) string {
	var open []string
	for _, m := range n.Machines {
		if m.Open {
			open = append(open, m.Machine)
		}
	}
	switch {
	case !n.FanOn:
		return "The fan is off."
	case len(plan.Machines) == 0:
		return ""
	case len(open) == 0:
		return "No machine is open."
	}
	return "Open: " + strings.Join(open, ", ")
}

// sheetLeaks are the likely places of new leakage, if anything surely leaks, with what the key says of them. Places
// that cannot be told apart share a letter, since their probability is that of all of them together.
func sheetLeaks(c *watch.Collector) (out []draw.SheetLeak, notes []string) {
	groups := 0
	for _, z := range sureLeaks(c) {
		if !(z.Probability >= likely) || !(z.Leakage.V > 0) {
			continue
		}
		share := shareText(z.Probability)
		if len(z.Members) == 0 {
			out = append(out, draw.SheetLeak{Part: z.Part, Words: "leak? " + share})
			continue
		}
		letter := string(rune('P' + groups%11)) // at most ten are as likely as one in ten; A, B, … are where rings are cut
		groups++
		notes = append(notes, "leak at one of the places marked "+letter+": "+share)
		for _, part := range z.Members {
			out = append(out, draw.SheetLeak{Part: part, Words: "leak? " + letter})
		}
	}
	if len(out) > 0 {
		notes = append(notes, "A percentage tells how likely the leak is there.")
	}
	return out, notes
}

// sheetFigures write numbers in the digits that they deserve. The model shares out the fan's flow, so that no part is
// better known than the whole; a pressure goes with the square of the flow. Whatever is small is known to 3 m³/h, 0.3 m/s
// and 3 Pa at best: what trickles past a shut gate deserves no decimals.
func (s units) sheetFigures(c *watch.Collector) draw.Figures {
	doubt := flowDoubt(c)
	in := func(doubt, least float64, c scale) func(float64) string {
		return func(v float64) string {
			return about(estimate.Value{V: v, SE: math.Max(doubt*math.Abs(v), least)}, c.factor, c.unit)
		}
	}
	return draw.Figures{Need: s.flowPlain, Flow: in(doubt, 3.0/hour, s.flow), Velocity: in(doubt, 0.3, s.velocity), Pressure: in(2*doubt, 3, s.pressure),
		Transport: s.velocity.plain, Diameter: func(d float64) string { return fixed(d*s.diameter.factor, diameterDecimals(s.diameter)) }, DiameterUnit: s.diameter.unit}
}

// diameterDecimals is how finely a diameter is written: whole millimetres, or quarters of an inch and finer.
func diameterDecimals(c scale) int {
	if c.unit == "in" {
		return 2
	}
	return 0
}

// flowDoubt is the standard error of the fan's flow over that flow.
func flowDoubt(c *watch.Collector) float64 {
	if doubt := c.Now.Flow.SE / c.Now.Flow.V; doubt > 0 {
		return doubt
	}
	return 0.05
}

package estimate

import (
	"fmt"
	"math"
	"strings"
	"time"

	"ductward/internal/detect"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/quantity"
)

// flowWords writes a flow with its spread, in the digits that the spread supports.
func flowWords(v, sd float64) string { return quantity.FormatSpread(quantity.Flow, v, sd, "m3/h") }

// suctionWords names the suction at which leaks are told.
func (e *Estimator) suctionWords() string {
	return quantity.Format(quantity.Pressure, e.reference, "Pa")
}

// dateWords writes a day as people say it.
func (e *Estimator) dateWords(t time.Time) string {
	if t.IsZero() {
		return "a day that the clock did not name"
	}
	return t.In(e.site.Location).Format("2 January 2006")
}

// about names what the advice of a change's finding is about; "" where nobody knows.
func about(f *finding.Finding) string {
	switch f.Kind {
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks:
		return whereToLook(f.Where)
	case finding.TrunkBlocked:
		if f.Subject == "trunk" {
			return ""
		}
		return partWords("run:" + f.Subject)
	}
	return f.Subject
}

// words writes the text and the evidence of a change's finding.
func (e *Estimator) words(f *finding.Finding, c *change) {
	switch f.Kind {
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks:
		e.leakWords(f, c)
	case finding.OpenSideChanged:
		f.Text = fmt.Sprintf("The side of %s beyond its gate lets the air through more easily than at the baseline, by %.0f %% of its loss (between %.0f and %.0f %%), since about %s: its hose or hood leaks or has come loose, or it was changed. Pressures alone cannot tell these apart.",
			f.Subject, 100*(1-f.Size), 100*(1-f.SizeHigh), 100*(1-f.SizeLow), e.dateWords(f.Onset))
		f.Evidence = "It shows only in the gate sets that open this drop; the others read as at the baseline."
	case finding.TrunkBlocked:
		f.Text = fmt.Sprintf("The trunk resists the air more than at the baseline, since about %s. Where: %s. If it is there, that run loses %.1f times what it lost (between %.1f and %.1f).",
			e.dateWords(f.Onset), placeWords(f.Where), f.Size, f.SizeLow, f.SizeHigh)
		f.Evidence = "The gate sets behind this stretch show it, the others do not."
	case finding.DropBlocked:
		percent := 100 * (f.Size - 1)
		f.Text = fmt.Sprintf("The drop of %s resists the air %.0f %% more than at the baseline (between %.0f and %.0f %%), since about %s.",
			f.Subject, percent, 100*(f.SizeLow-1), 100*(f.SizeHigh-1), e.dateWords(f.Onset))
		f.Evidence = "It shows only in the gate sets that open this drop; the others read as at the baseline."
	case finding.FilterLostResistance:
		e.tearWords(f, c)
	case finding.FanSlow:
		f.Text = fmt.Sprintf("All pressures changed together as if the fan turned at %.1f %% of its baseline speed (between %.1f and %.1f %%), since about %s.",
			100*f.Size, 100*f.SizeLow, 100*f.SizeHigh, e.dateWords(f.Onset))
		f.Evidence = "Every gate set shows it in the same proportion."
	case finding.RestrictionAfterTap:
		e.behindWords(f)
	case finding.SensorDisagrees:
		f.Text = fmt.Sprintf("Sensor %s reads %.1f %% of what the other sensors and its own baseline say, since about %s.",
			f.Subject, 100*f.Size, e.dateWords(f.Onset))
		f.Evidence = "No leak, blockage or change of the fan fits all the other readings."
	}
}

// halfPressure is the share of a fan's pressure below which it may turn backwards: it then moves 40 to 60 % of the air, the
// right way still (common practice, no source), which at one system is at most 36 % of the pressure.
const halfPressure = 0.5

// backwards tells whether a finding about the fan may be one that turns backwards.
func backwards(f *finding.Finding) bool {
	return f.Kind == finding.FanSlow && f.Size*f.Size < halfPressure || f.Kind == finding.RestrictionAfterTap && f.Size < halfPressure
}

// advise writes what a change's finding may be confused with, and what is to be done about it.
func (e *Estimator) advise(f *finding.Finding, c *change) {
	row := diagnosis.Of(f.Kind)
	if f.Kind == finding.SensorDisagrees && e.cols.isScale(c.col) && e.cols.meters[c.col-e.cols.gain0].fan {
		row = diagnosis.FanMeter
	}
	f.ConfusableWith = append(e.confusable(c), row.Others()...)
	f.Action = row.Action(about(f))
	if backwards(f) {
		f.Action = diagnosis.Backwards + " " + f.Action
	}
}

// behindWords writes the words of a fan that makes less of its speed.
func (e *Estimator) behindWords(f *finding.Finding) {
	if !e.cols.metered() {
		f.Text = fmt.Sprintf("All pressures changed together, the more the more air flows: at much air %.0f %% of the fan's pressure is left (between %.0f and %.0f %%), since about %s. Where: %s. The fan's power or speed, which nobody reads, would tell more surely.",
			100*f.Size, 100*f.SizeLow, 100*f.SizeHigh, e.dateWords(f.Onset), placeWords(f.Where))
		f.Evidence = "Every gate set shows it, those with much air more than those with little; a slow fan would show in all alike."
		return
	}
	f.Text = fmt.Sprintf("The fan turns as fast as at the baseline and leaves %.0f %% of the pressure that it did (between %.0f and %.0f %%), since about %s. Where: %s.",
		100*f.Size, 100*f.SizeLow, 100*f.SizeHigh, e.dateWords(f.Onset), placeWords(f.Where))
	f.Evidence = "All pressures changed together, and the fan's own power or speed did not change as with a slow fan."
}

// tearWords writes the words of a filter past whose medium air goes.
func (e *Estimator) tearWords(f *finding.Finding, c *change) {
	area, sd := OpenArea(c.mean, e.reference, 1.2)*1e4, OpenArea(c.sd, e.reference, 1.2)*1e4
	housing := ""
	if !e.cols.filterFirst { // the dirty side is then above the room's pressure
		housing = ", or there is a hole in its housing"
	}
	f.Text = fmt.Sprintf("Air goes past the filter’s medium, since about %s: as much as a hole of %s would let through. It may be torn or sit badly%s, and dust may come into the room.",
		e.dateWords(f.Onset), spreadWords(area, sd, "cm²"), housing)
	f.Evidence = "The filter's drop fell, with little air by far more than with much: dust on the medium makes no such difference, a hole does."
}

// leakWords writes the words of a leak.
func (e *Estimator) leakWords(f *finding.Finding, c *change) {
	area := OpenArea(c.mean, e.reference, 1.2) * 1e6
	areaSD := OpenArea(c.sd, e.reference, 1.2) * 1e6
	var b strings.Builder
	verb := "has begun"
	if c.profile == detect.Ramp {
		verb = "is growing"
	}
	fmt.Fprintf(&b, "A leak %s: now %s at %s", verb, flowWords(c.mean, c.sd), e.suctionWords())
	if flow := e.typicalFlow(); !math.IsInf(flow, 1) {
		fmt.Fprintf(&b, ", %.1f %% of the fan's flow", 100*c.mean/flow)
	}
	fmt.Fprintf(&b, ", as much as an opening of %s. ", spreadWords(area, areaSD, "mm²"))
	if f.OnsetLow.Equal(f.OnsetHigh) {
		fmt.Fprintf(&b, "Since %s. ", e.dateWords(f.Onset))
	} else {
		fmt.Fprintf(&b, "Since about %s, between %s and %s. ", e.dateWords(f.Onset), e.dateWords(f.OnsetLow), e.dateWords(f.OnsetHigh))
	}
	fmt.Fprintf(&b, "Where: %s.", placeWords(f.Where))
	f.Text = b.String()
	f.Evidence = "More air reaches the collector at the same gates than at the baseline; the filter's resistance and the fan are allowed for."
}

// spreadWords writes a value and its standard error to the same digit.
func spreadWords(v, sd float64, unit string) string {
	digits := 0
	if sd > 0 {
		digits = max(0, -int(math.Floor(math.Log10(sd))))
	}
	digits = min(digits, 3)
	return fmt.Sprintf("%.*f ± %.*f %s", digits, v, digits, sd, unit)
}

// placeWords says a mixture of places.
func placeWords(where []finding.Place) string {
	var out []string
	for _, p := range where {
		if p.Part == "other" || len(out) == 3 {
			break
		}
		out = append(out, fmt.Sprintf("%s %.0f %%", groupWords(p), 100*p.Probability))
	}
	if len(out) == 0 {
		return "cannot tell"
	}
	return strings.Join(out, ", ")
}

// groupWords says a place, or a group that cannot be told apart.
func groupWords(p finding.Place) string {
	switch n := len(p.Members); {
	case n <= 1:
		return partWords(p.Part)
	case n == 2:
		return partWords(p.Members[0]) + " or " + partWords(p.Members[1])
	}
	runs, names := true, []string{}
	for _, m := range p.Members {
		kind, name, _ := strings.Cut(m, ":")
		runs = runs && kind == "run"
		names = append(names, name)
	}
	if runs {
		return fmt.Sprintf("one of the runs %s (they cannot be told apart)", strings.Join(names, ", "))
	}
	return fmt.Sprintf("%s or %d places that look the same", partWords(p.Part), len(p.Members)-1)
}

// partWords says a part in the trade's words.
func partWords(part string) string {
	kind, name, _ := strings.Cut(part, ":")
	switch kind {
	case "run":
		return fmt.Sprintf("run %q", name)
	case "seat":
		return fmt.Sprintf("the seat of gate %q", name)
	case "drop":
		return fmt.Sprintf("the drop above gate %q", name)
	case "open-side":
		return fmt.Sprintf("%s's side of its gate", name)
	case "blockage":
		return fmt.Sprintf("a change in the drop of %s", name)
	case "choked":
		return fmt.Sprintf("chips in run %q", name)
	case "inlet":
		return fmt.Sprintf("the inlet of collector %q, its separator or the lid of its bin", name)
	case "past-filter":
		return "a hole in the filter's medium or housing, or its seat"
	case "fan":
		return "the fan's speed"
	case "fan-wheel":
		return "the fan's wheel: caked, worn or turning backwards"
	case "behind-tap":
		return "a restriction between the last tap and the outlet"
	case "clean-side":
		return "air that enters between filter and fan"
	case "sensor":
		return fmt.Sprintf("sensor %s", name)
	}
	return part
}

// whereToLook names the places to walk along, in the order in which looking pays.
func whereToLook(where []finding.Place) string {
	var out []string
	sum := 0.0
	for _, p := range finding.InSearchOrder(where) {
		if p.Part == "other" || strings.HasPrefix(p.Part, "sensor:") || p.Part == "fan" {
			continue
		}
		out = append(out, groupWords(p))
		sum += p.Probability
		if sum > 0.8 || len(out) == 4 {
			break
		}
	}
	if len(out) == 0 {
		return "the trunk and the drops"
	}
	return strings.Join(out, ", then ")
}

// gateWords lists the gates of a set.
func gateWords(set *gateSet) string {
	if len(set.open) == 0 {
		return "no gate"
	}
	return listWords(set.open)
}

// listWords writes a list as people say it.
func listWords(names []string) string {
	if len(names) == 1 {
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

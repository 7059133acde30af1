package estimate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ductward/internal/detect"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/steady"
	"ductward/internal/whichopen"
)

// A gate that stands open while a switch or a hand says that it is shut lets in as much air as its machine does. In a run
// with every gate told shut that is far beyond any ordinary leak, and in the estimate it would pass for one. Each run that
// is not as told is held against what it would be with one gate more open, with a leak of any size near the collector or far
// from it, with a hood or a drop that was changed, with another filter and another fan.
const (
	leftOpenBar    = 0.95   // where every gate is told shut
	leftOutBar     = 0.5    // a run with every gate told shut that may as well be one with a gate open is no closed check
	alsoOpenBar    = 0.99   // where some are told open: there are twenty such runs to one of the others
	leftOpenChance = 0.004  // that some gate is open that is told shut (common practice, no source)
	largeLeak      = 0.0005 // that a leak of the least size began just before it; one of twice the size is half as probable
	hoodChance     = 0.01   // that a drop that is open was changed
	hoodSpread     = 0.5    // of the log of its loss then
	slowFanChance  = 0.001
	slowFanSpread  = 0.05
	leakSizeSpread = 0.4 // of the log of a leak's size about those that are tried
)

// leakSizes are tried, in m³/s at the reference suction: from what a seam lets in to a trunk that has come apart.
var leakSizes = [...]float64{30.0 / 3600, 60.0 / 3600, 120.0 / 3600, 240.0 / 3600, 480.0 / 3600, 960.0 / 3600, 1920.0 / 3600}

// leftOpen tells whether a run shows a gate open that is told shut. Such a run says nothing of leakage, drops and hoods, and
// is no closed check.
func (e *Estimator) leftOpen(o *observation) bool {
	if e.cal == nil || len(o.run.Unknown) > 0 {
		return false
	}
	closed := o.run.Kind == steady.Closed
	if f := e.standingLeftOpen(); f != nil && slices.Contains(o.run.Open, f.Subject) && e.openBefore(f) == nil {
		f.Ended = o.run.At // it is told open, as it was
	}
	if len(e.readings(o)) < 2 {
		return false
	}
	filter, asTold := e.filterAsTold(o)
	if asTold {
		o.asTold, e.gone = true, 0
		delete(e.cal.odd, o.set.key)
		e.telling.asTold(o.run.Open)
		e.perhaps.asTold(closed)
		if f := e.standingLeftOpen(); f != nil && (closed || e.surelyShut(f, o, filter)) {
			f.Ended = o.run.At
		}
		return false
	}
	belief, filter := e.weighOpen(o, filter)
	e.gone = probabilityOf(belief, mended)
	if e.foundShut(o, belief, filter.V) {
		return true
	}
	places, sum, flow := e.openPlaces(o, belief, filter.V)
	switch {
	case !closed && sum < alsoOpenBar:
		o.held = e.heldBy(belief)
		o.held.found = e.standsOpen()
		return false
	case sum <= leftOutBar*(1-belief.None): // what nothing explains well is still more like the one than the other
		return false
	case closed:
		e.open.closed--
	}
	if closed {
		sum = e.perhaps.surer(sum)
	}
	if sum >= leftOpenBar {
		if !closed && e.isBuiltOdd(o.set) {
			return false
		}
		e.open.foundOtherwise()
		e.tellLeftOpen(o, places, sum, flow)
	}
	return true
}

// perhaps follows runs with every gate told shut that are hardly explained but by a gate that is open. A leak that began before
// one of them would show in the runs after it: where these are as told, the next such run is evidence of its own.
type perhaps struct {
	Doubt float64 // that it was a gate, of the runs so far; 0: there are none
	Since bool    // a run with a gate told open has been as told since the last of them
}

// asTold takes in a run that is as told.
func (p *perhaps) asTold(closed bool) {
	if closed {
		*p = perhaps{}
	}
	p.Since = !closed
}

// surer takes in a run that shows an open gate with a probability, and returns that with the runs before.
func (p *perhaps) surer(probability float64) float64 {
	doubt := 1 - probability
	if p.Doubt > 0 && p.Since {
		doubt *= p.Doubt
	}
	*p = perhaps{Doubt: doubt}
	return 1 - doubt
}

// toldShut lists the machines that draw no air as a run is told.
func (e *Estimator) toldShut(o *observation) []int {
	var out []int
	for m := range e.cols.machines {
		if !slices.Contains(o.set.machines, m) {
			out = append(out, m)
		}
	}
	return out
}

// surelyShut tells whether the gates of a finding would show in a run that is as told, if they were open. One that is told open
// in it may be the one that stands open otherwise.
func (e *Estimator) surelyShut(f *finding.Finding, o *observation, filter Value) bool {
	for _, gate := range gatesOf(f.Where) {
		if slices.Contains(o.run.Open, gate) {
			return false
		}
	}
	belief, _ := e.weighTold(o, filter, e.toldShut(o))
	_, sum, _ := e.openPlaces(o, belief, filter.V)
	return sum < 1-alsoOpenBar
}

// readings lists the logarithms that a run yields.
func (e *Estimator) readings(o *observation) []float64 {
	var in whichopen.Run
	e.readLogs(&in, o)
	return slices.DeleteFunc(in.Reading, math.IsNaN)
}

// openPlaces turns the probabilities into the gates that may be open, the likeliest first, their sum, and the air (m³/s)
// that the fan then draws beyond what it would as told.
func (e *Estimator) openPlaces(o *observation, b whichopen.Belief, filter float64) (places []finding.Place, sum, flow float64) {
	as := e.withUnknown(o.run)
	told, total := 0.0, 0.0
	if o.run.Kind != steady.Closed { // the designed leakage then enters there
		told = e.expect(o.set, filter, o.air).flow
	}
	for _, g := range b.Sets {
		machine, ok := strings.CutPrefix(g.Key, "open:")
		if !ok {
			continue
		}
		sum += g.Probability
		for _, gate := range e.collector.MachineGates(machine) {
			if !slices.Contains(o.run.Open, gate) && g.Probability >= 0.01 {
				set, _ := e.settingWith(&as, []int{slices.Index(e.cols.machines, machine)})
				flow += g.Probability * (e.expect(&set, filter, o.air).flow - told)
				total += g.Probability
				places = append(places, finding.Place{Part: "seat:" + gate, Probability: g.Probability})
				break
			}
		}
	}
	if len(places) == 0 {
		return nil, 0, 0
	}
	for i := range places {
		places[i].Probability /= total
	}
	return places, sum, flow / total
}

// withUnknown returns a run as if the position of no gate that is told shut were known.
func (e *Estimator) withUnknown(r *steady.Run) steady.Run {
	as := *r
	for _, g := range e.collector.Gates {
		if !slices.Contains(r.Open, g.Name) {
			as.Unknown = append(as.Unknown, g.Name)
		}
	}
	return as
}

// leftOpenSubject is how probable one gate must be to be named alone.
const leftOpenSubject = 0.9

// tellLeftOpen raises the finding, unless it stands.
func (e *Estimator) tellLeftOpen(o *observation, places []finding.Place, sum, flow float64) {
	subject := ""
	if places[0].Probability >= leftOpenSubject {
		subject = places[0].Part[len("seat:"):]
	}
	if f := e.standingLeftOpen(); f != nil {
		if overlaps(f.Where, places) { // the same one still
			return
		}
		f.Ended = o.run.At
	}
	f, se := e.gateFinding(finding.GateLeftOpen, o, subject, places, flow)
	what := "a gate"
	if subject != "" {
		what = subject
	}
	asTold, more := "every gate told shut", ""
	if len(o.run.Open) > 0 {
		asTold, more = "only "+listWords(o.run.Open)+" told open", " more"
	}
	f.Text = fmt.Sprintf("With %s, the fan drew as much air as with %s open too, %s%s (%.0f %% sure; a leak of that size would be far less likely).", asTold, what, flowWords(flow, se), more, math.Floor(100*sum))
	if subject == "" {
		f.Text += " Which one the pressures do not tell: " + listWords(gatesOf(places[:min(len(places), 4)])) + "."
	}
	if was := e.openBefore(&f); was != nil {
		f.Text += fmt.Sprintf(" So it was on %s, and has been told open since: perhaps it does not shut, or its switch does not tell.", e.dateWords(was.Onset))
	}
	f.Evidence = "The pressures of a run in which it was told shut. The run is left out of the estimate."
	e.findings = append(e.findings, f)
}

// gateFinding makes the finding of a gate that stood otherwise than told in a run, to be planned, without its words; se is the standard
// error of the air (m³/s) that it makes.
func (e *Estimator) gateFinding(kind finding.Kind, o *observation, subject string, places []finding.Place, flow float64) (f finding.Finding, se float64) {
	at, row := o.run.At, diagnosis.Of(kind)
	f = finding.Finding{Collector: e.collector.Name, Kind: kind, Subject: subject, Priority: finding.Plan, Where: places,
		Raised: at, Onset: at, OnsetLow: at, OnsetHigh: at, SizeUnit: "m3/s", Action: row.Action(subject), ConfusableWith: row.Others()}
	if !at.IsZero() {
		f.Onset = at.Add(o.run.Start - o.run.End)
		f.OnsetLow = f.Onset
	}
	f.ID = e.newID(kind, subject, f.Onset)
	se = e.flowError() * flow
	q := detect.Quantile(confidence)
	f.Size, f.SizeLow, f.SizeHigh, f.Confidence = flow, max(flow-q*se, 0), flow+q*se, confidence
	return f, se
}

// overlaps tells whether two lists have a place in common.
func overlaps(a, b []finding.Place) bool {
	return slices.ContainsFunc(a, func(p finding.Place) bool {
		return slices.ContainsFunc(b, func(q finding.Place) bool { return q.Part == p.Part })
	})
}

// gatesOf lists the gates of places.
func gatesOf(places []finding.Place) []string {
	var out []string
	for _, p := range places {
		out = append(out, p.Part[len("seat:"):])
	}
	return out
}

// standingLeftOpen returns the finding that stands, nil if none does.
func (e *Estimator) standingLeftOpen() *finding.Finding {
	for i := range e.findings {
		if f := &e.findings[i]; f.Kind == finding.GateLeftOpen && f.Active() {
			return f
		}
	}
	return nil
}

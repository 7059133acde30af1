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
// with every gate told shut that is far beyond any ordinary leak, and in the estimate it would pass for one. Each such run
// is held against what it would be with one gate open, with a leak of any size, with another filter and another fan.
const (
	leftOpenBar    = 0.95
	leftOpenChance = 0.004  // that some gate is open in a run in which all are told shut (common practice, no source)
	largeLeak      = 0.0005 // that a leak of each size began just before it
	slowFanChance  = 0.001
	slowFanSpread  = 0.05
	leakSizeSpread = 0.4 // of the log of a leak's size about those that are tried
)

// leakSizes are tried, in m³/s at the reference suction: from what a seam lets in to a trunk that has come apart.
var leakSizes = [...]float64{30.0 / 3600, 60.0 / 3600, 120.0 / 3600, 240.0 / 3600, 480.0 / 3600, 960.0 / 3600, 1920.0 / 3600}

// leftOpen tells whether a run in which every gate is told shut shows a gate that is open. Such a run says nothing of
// leakage and is no closed check.
func (e *Estimator) leftOpen(o *observation) bool {
	if e.cal == nil || len(o.run.Unknown) > 0 {
		return false
	}
	if o.run.Kind != steady.Closed {
		e.shutAgain(func(gate string) bool { return slices.Contains(o.run.Open, gate) }, o.run)
		return false
	}
	if len(e.readings(o)) < 2 {
		return false
	}
	if told := e.weighShut(o, nil); told.None < 0.5 {
		e.shutAgain(func(string) bool { return true }, o.run)
		return false
	}
	free := make([]int, len(e.cols.machines))
	for m := range free {
		free[m] = m
	}
	places, sum, flow := e.openPlaces(o, e.weighShut(o, free))
	if sum < leftOpenBar {
		return false
	}
	e.open.closed--
	e.tellLeftOpen(o, places, sum, flow)
	return true
}

// readings lists the logarithms that a run yields.
func (e *Estimator) readings(o *observation) []float64 {
	var in whichopen.Run
	e.readLogs(&in, o)
	return slices.DeleteFunc(in.Reading, math.IsNaN)
}

// weighShut weighs a run in which every gate is told shut: as told, and, where machines are given, with one of them open
// and with whatever else may explain it.
func (e *Estimator) weighShut(o *observation, machines []int) whichopen.Belief {
	filter := 0.03
	if n := len(e.filter.points); n > 0 {
		filter = math.Hypot(filter, e.filter.points[n-1].log.SE)
	}
	density := o.known.densityError(1)
	t := whichopen.New([]float64{e.logFilterNow(), 0, 0, 0}, []float64{filter * filter, unseenLeak * unseenLeak, unseenFanSpeed * unseenFanSpeed, density * density})
	in := &whichopen.Run{Move: whichopen.Parted, Jumps: []whichopen.Jump{
		{Chance: cleanedAtRest, Shift: part(sharedFilter, cleanedShift), Var: part(sharedFilter, cleanedSpread*cleanedSpread)}}}
	e.readLogs(in, o)
	hoods := make([]float64, len(e.cols.machines))
	for m := range hoods {
		hoods[m] = e.hoods.sd(m)
	}
	add := func(key string, set *gateSet, leak, usual float64, also func(*expectation, *whichopen.Set)) {
		x := e.expect(set, t.Mean[sharedFilter], o.air, leak)
		if !x.solved {
			return
		}
		s := e.candidate(x, o.air, hoods)
		s.Key, s.Usual = key, usual
		if also != nil {
			also(x, &s)
		}
		in.Sets = append(in.Sets, s)
	}
	add("told", o.set, 0, 1, nil)
	if machines == nil {
		return t.Take(in)
	}
	add("fan", o.set, 0, slowFanChance, func(x *expectation, s *whichopen.Set) { widen(s, x, sharedFan, slowFanSpread) })
	for _, q := range leakSizes {
		add("leak", o.set, q, largeLeak, func(x *expectation, s *whichopen.Set) { widen(s, x, sharedLeak, leakSizeSpread*q) })
	}
	as := e.withUnknown(o.run)
	has := map[string]bool{o.set.key: true}
	for _, m := range machines {
		if set, ok := e.settingWith(&as, []int{m}); ok && !has[set.key] {
			has[set.key] = true
			add("open:"+e.cols.machines[m], &set, 0, leftOpenChance/float64(len(machines)), nil)
		}
	}
	return t.Take(in)
}

// widen adds to a candidate what one part of the shared state may be off by in it.
func widen(s *whichopen.Set, x *expectation, part int, sd float64) {
	for c := range s.Cov {
		for d := range s.Cov[c] {
			s.Cov[c][d] += sd * sd * x.rows[c][part] * x.rows[d][part]
		}
	}
}

// openPlaces turns the probabilities into the gates that may be open, the likeliest first, their sum, and the air (m³/s)
// that the fan then draws.
func (e *Estimator) openPlaces(o *observation, b whichopen.Belief) (places []finding.Place, sum, flow float64) {
	as := e.withUnknown(o.run)
	total := 0.0
	for _, g := range b.Sets {
		machine, ok := strings.CutPrefix(g.Key, "open:")
		if !ok {
			continue
		}
		sum += g.Probability
		for _, gate := range e.collector.MachineGates(machine) {
			if !slices.Contains(o.run.Open, gate) && g.Probability >= 0.01 {
				set, _ := e.settingWith(&as, []int{slices.Index(e.cols.machines, machine)})
				flow += g.Probability * e.expect(&set, e.logFilterNow(), o.air, 0).flow
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

// withUnknown returns a run as if no gate's position were known.
func (e *Estimator) withUnknown(r *steady.Run) steady.Run {
	as := *r
	for _, g := range e.collector.Gates {
		as.Unknown = append(as.Unknown, g.Name)
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
	at := o.run.At
	f := finding.Finding{Collector: e.collector.Name, Kind: finding.GateLeftOpen, Subject: subject, Priority: finding.Plan,
		Raised: at, Onset: at, OnsetLow: at, OnsetHigh: at, SizeUnit: "m3/s"}
	if !at.IsZero() {
		f.Onset = at.Add(o.run.Start - o.run.End)
		f.OnsetLow = f.Onset
	}
	f.ID = e.newID(f.Kind, subject, f.Onset)
	f.Where = places
	se := e.flowError() * flow
	q := detect.Quantile(confidence)
	f.Size, f.SizeLow, f.SizeHigh, f.Confidence = flow, max(flow-q*se, 0), flow+q*se, confidence
	what := "a gate"
	if subject != "" {
		what = subject
	}
	f.Text = fmt.Sprintf("With every gate told shut, the fan drew as much air as with %s open, %s (%.0f %% sure; a leak of that size would be far less likely).", what, flowWords(flow, se), math.Floor(100*sum))
	if subject == "" {
		f.Text += " Which one the pressures do not tell: " + listWords(gatesOf(places[:min(len(places), 4)])) + "."
	}
	f.Action = diagnosis.Of(f.Kind).Action(subject)
	f.ConfusableWith = diagnosis.Of(f.Kind).Others()
	f.Evidence = "The filter's drop and the suction of a run in which every gate was told shut. The run is left out of the estimate of leakage."
	e.findings = append(e.findings, f)
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

// shutAgain ends the finding once a run with every gate shut is as it should be, or a gate that it may be is told open.
func (e *Estimator) shutAgain(is func(gate string) bool, r *steady.Run) {
	f := e.standingLeftOpen()
	if f == nil {
		return
	}
	for _, g := range gatesOf(f.Where) {
		if is(g) {
			f.Ended = r.At
			return
		}
	}
}

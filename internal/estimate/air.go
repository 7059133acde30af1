package estimate

import (
	"fmt"
	"math"
	"sort"

	"ductward/internal/detect"
	"ductward/internal/diagnosis"
	"ductward/internal/duct"
	"ductward/internal/finding"
	"ductward/internal/quantity"
	"ductward/internal/steady"
)

// shortAir is how one machine fared lately: for each of its last days of use, the share of its hours with too little air.
type shortAir struct {
	days  []airedDay
	worst *gateSet // of the last day on which it was short
	flow  float64  // m³/s it got there
	needs float64
	alone bool // it is short even with nothing else open
}

// airedDay is one day of a machine's use.
type airedDay struct{ hours, short float64 }

// What makes a machine short of air: the share of its hours over its last days of use, and where that ends.
const (
	shortProbability = 0.9
	shortShare       = 0.25
	fineShare        = 0.10
	shortDays        = 5
	shortHours       = 0.1 // h: a gate set that was used for less tells nothing
)

// airDay judges the air at each machine over a day's runs, and where dust may settle.
func (e *Estimator) airDay(d *dayData) {
	ratio := math.Exp(d.filter[len(d.filter)-1].V)
	today := map[string]*airedDay{}
	solved := map[string]*duct.Result{}
	hours := map[string]float64{}
	var order []*gateSet
	for i := range d.obs {
		o := &d.obs[i]
		if o.set.kind != steady.Running {
			continue
		}
		if hours[o.set.key] == 0 {
			order = append(order, o.set)
		}
		hours[o.set.key] += (o.run.End - o.run.Start).Hours()
	}
	for _, set := range order {
		if hours[set.key] < shortHours {
			continue
		}
		res, err := e.solveAt(set, ratio)
		if err != nil {
			continue
		}
		solved[set.key] = res
		for _, m := range res.Machines {
			if m.Open && !math.IsNaN(m.Needs) {
				e.airUse(today, m, set, hours[set.key])
			}
		}
	}
	e.dustDay(order, solved, ratio)
	for _, name := range sortedKeys(today) {
		s := e.short[name]
		s.days = append(s.days, *today[name])
		if len(s.days) > shortDays {
			s.days = s.days[1:]
		}
		e.judgeAlone(name, s, ratio)
	}
	e.judgeTogether(ratio)
}

// airUse counts the hours of one machine in one gate set.
func (e *Estimator) airUse(today map[string]*airedDay, m duct.MachineFlow, set *gateSet, hours float64) {
	if today[m.Name] == nil {
		today[m.Name] = &airedDay{}
	}
	if e.short[m.Name] == nil {
		e.short[m.Name] = &shortAir{}
	}
	t, s := today[m.Name], e.short[m.Name]
	t.hours += hours
	if detect.Below(m.Needs, m.Flow, e.flowError()*m.Flow) < shortProbability {
		return
	}
	if t.short == 0 || m.Flow < s.flow {
		s.worst, s.flow, s.needs = set, m.Flow, m.Needs
	}
	t.short += hours
}

// share returns the share of its hours that a machine was short on its last days of use.
func (s *shortAir) share() float64 {
	var hours, short float64
	for _, d := range s.days {
		hours += d.hours
		short += d.short
	}
	if hours == 0 {
		return 0
	}
	return short / hours
}

// judgeAlone raises, refreshes or ends the finding that a machine has too little air even with nothing else open: the
// drop, the filter, the fan or a leak is to blame.
func (e *Estimator) judgeAlone(name string, s *shortAir, ratio float64) {
	set := e.aloneSet(name)
	if set == nil {
		return
	}
	res, err := e.solveAt(set, ratio)
	if err != nil {
		return
	}
	flow, needs := machineFlow(res, name), e.needsOf(name)
	se := e.flowError() * flow
	p := detect.Below(needs, flow, se)
	s.alone = p >= shortProbability
	f := e.standing(finding.AirShort, name)
	switch {
	case f != nil && p < 0.5:
		f.Ended = e.lastAt
		return
	case f == nil && !s.alone:
		return
	case f == nil:
		f = e.newShort(name)
	}
	q := detect.Quantile(confidence)
	lack := needs - flow
	f.Priority = finding.Plan
	if flow < needs/2 {
		f.Priority = finding.ActToday
	}
	f.Size, f.SizeLow, f.SizeHigh, f.SizeUnit, f.Confidence = lack, max(lack-q*se, 0), lack+q*se, "m3/s", confidence
	f.Text = fmt.Sprintf("%s gets %s of the %s that it needs, even with no other gate open (%.0f %% sure that it is too little).",
		name, flowWords(flow, se), quantity.Format(quantity.Flow, needs, "m3/h"), 100*p)
	f.Action = diagnosis.Of(f.Kind).Action(name)
	f.Evidence = "The calibrated duct model at the filter's resistance and the leakage of the day."
	f.ConfusableWith = diagnosis.Of(f.Kind).Others()
	f.Under = e.behind(set, ratio, e.enough(name))
}

// enough tells whether a machine gets what it needs in a solved state.
func (e *Estimator) enough(name string) func(*duct.Result) bool {
	return func(res *duct.Result) bool {
		flow := machineFlow(res, name)
		return detect.Below(e.needsOf(name), flow, e.flowError()*flow) < 0.5
	}
}

// newShort raises a finding of too little air.
func (e *Estimator) newShort(subject string) *finding.Finding {
	f := finding.Finding{Collector: e.collector.Name, Kind: finding.AirShort, Subject: subject, Raised: e.lastAt,
		Onset: e.lastAt, OnsetLow: e.lastAt, OnsetHigh: e.lastAt}
	f.ID = e.newID(f.Kind, subject, e.lastAt)
	e.findings = append(e.findings, f)
	return &e.findings[len(e.findings)-1]
}

// needsOf returns what a machine needs, in m³/s; NaN where it is not stated.
func (e *Estimator) needsOf(name string) float64 {
	if m := e.collector.Machine(name); m != nil {
		return m.Needs
	}
	return math.NaN()
}

// judgeTogether raises, refreshes or ends the one finding that machines which have enough by themselves run short because
// others are open as well. It is one cause, whichever machines it hits.
func (e *Estimator) judgeTogether(ratio float64) {
	var names []string
	most := 0.0
	for _, name := range sortedKeys(e.short) {
		s := e.short[name]
		if s.alone || len(s.days) < shortDays || s.worst == nil {
			continue
		}
		most = max(most, s.share())
		if s.share() >= fineShare {
			names = append(names, name)
		}
	}
	f := e.standing(finding.AirShort, "")
	switch {
	case f != nil && most < fineShare:
		f.Ended = e.lastAt
		return
	case f == nil && most < shortShare:
		return
	case f == nil:
		f = e.newShort("")
	}
	sort.SliceStable(names, func(a, b int) bool { return e.short[names[a]].share() > e.short[names[b]].share() })
	e.togetherWords(f, names)
	f.Under = e.behind(e.short[names[0]].worst, ratio, e.enough(names[0]))
}

// togetherWords writes the finding that machines run short because others are open as well.
func (e *Estimator) togetherWords(f *finding.Finding, names []string) {
	worst := e.short[names[0]]
	q := detect.Quantile(confidence)
	se := e.flowError() * worst.flow
	lack := worst.needs - worst.flow
	f.Priority = finding.Plan
	f.Size, f.SizeLow, f.SizeHigh, f.SizeUnit, f.Confidence = lack, max(lack-q*se, 0), lack+q*se, "m3/s", confidence
	var parts []string
	for _, n := range names[:min(len(names), 4)] {
		parts = append(parts, fmt.Sprintf("%s (%.0f %% of its time)", n, 100*e.short[n].share()))
	}
	more := ""
	if n := len(names) - len(parts); n > 0 {
		more = fmt.Sprintf(", and %d more", n)
	}
	f.Text = fmt.Sprintf("With several gates open there was too little air on the last days of use at %s%s. Worst was %s with %s open: %s of the %s that it needs. Alone, each has enough.",
		listWords(parts), more, names[0], gateWords(worst.worst), flowWords(worst.flow, se), quantity.Format(quantity.Flow, worst.needs, "m3/h"))
	f.Action = diagnosis.Of(f.Kind).Action("")
	f.Evidence = "The calibrated duct model at the filter's resistance and the leakage of each day, over the hours that each gate set was used."
	f.ConfusableWith = diagnosis.Of(f.Kind).Others()
}

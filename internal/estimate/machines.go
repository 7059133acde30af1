package estimate

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"ductward/internal/detect"
	"ductward/internal/duct"
	"ductward/internal/finding"
	"ductward/internal/quantity"
	"ductward/internal/steady"
)

// flowError is the relative standard error of a machine's flow by the calibrated model: half a sensor's gain, and what
// the drawing leaves unknown. Absolute flow is never better than the gain.
func (e *Estimator) flowError() float64 {
	return math.Hypot(gainPrior, e.cal.misfit/2)
}

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

// usage is how often a gate set was used lately.
type usage struct {
	set   *gateSet
	hours float64
}

// usages returns the gate sets of the last ten days with their hours, in the order of their first use.
func (e *Estimator) usages() []usage {
	index := map[string]int{}
	var out []usage
	from := max(0, len(e.days)-10)
	for _, d := range e.days[from:] {
		for i := range d.obs {
			o := &d.obs[i]
			if o.set.kind != steady.Running {
				continue
			}
			k, ok := index[o.set.key]
			if !ok {
				k = len(out)
				index[o.set.key] = k
				out = append(out, usage{set: o.set})
			}
			out[k].hours += (o.run.End - o.run.Start).Hours()
		}
	}
	return out
}

// aloneSet returns the gate set that opens what one machine needs and nothing else, nil if it has no way to the
// collector.
func (e *Estimator) aloneSet(machine string) *gateSet {
	setting, err := e.collector.SettingFor([]string{machine})
	if err != nil {
		return nil
	}
	r := steady.Run{Kind: steady.Running}
	for _, g := range sortedKeys(setting.Open) {
		if setting.Open[g] {
			r.Open = append(r.Open, g)
		}
	}
	for _, s := range sortedKeys(setting.Port) {
		r.Ports = append(r.Ports, steady.Port{Selector: s, Port: setting.Port[s]})
	}
	g := newGateSet(&r)
	return &g
}

// flowOf returns the flow through the fan in a gate set with a clean filter.
func (e *Estimator) flowOf(set *gateSet) float64 {
	if set.flow == 0 {
		if res, err := e.solveAt(set, 1); err == nil {
			set.flow = res.FanFlow
		}
	}
	return set.flow
}

// widestSet returns the gate set of lately through which most air flows: a tenth of an hour at least.
func (e *Estimator) widestSet() *gateSet {
	var best *gateSet
	top := 0.0
	for _, u := range e.usages() {
		if u.hours < 0.1 {
			continue
		}
		if q := e.flowOf(u.set); q > top {
			best, top = u.set, q
		}
	}
	return best
}

// solveAt solves a gate set in standard air, with what is known to have changed, at a resistance over the shop file's
// clean value. Solutions at the same state are kept.
func (e *Estimator) solveAt(set *gateSet, ratio float64) (*duct.Result, error) {
	s := &state{logFilter: math.Log(ratio), params: e.known(len(e.summary)), globals: e.cal.globals}
	return e.viewer.model.Solve(e.viewer.ductState(set, s, e.standardAir()))
}

// machineFlow returns the flow at a machine, 0 if it has none.
func machineFlow(res *duct.Result, name string) float64 {
	for _, m := range res.Machines {
		if m.Name == name {
			return m.Flow
		}
	}
	return 0
}

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
	e.dustDay(order, solved)
	for _, name := range sortedKeys(today) {
		s := e.short[name]
		s.days = append(s.days, *today[name])
		if len(s.days) > shortDays {
			s.days = s.days[1:]
		}
		e.judgeAlone(name, s, ratio)
	}
	e.judgeTogether()
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
	f.Action = "Clean the filter if it is loaded; look at the machine's hose and hood; mend the leaks that were found."
	f.Evidence = "The calibrated duct model at the filter's resistance and the leakage of the day."
	f.ConfusableWith = []string{"a need that was entered too high"}
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
func (e *Estimator) judgeTogether() {
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
	f.Action = "Shut gates that are not in use, and open no more together than the fan can serve. A loaded filter and the leaks found take air from all of them."
	f.Evidence = "The calibrated duct model at the filter's resistance and the leakage of each day, over the hours that each gate set was used."
	f.ConfusableWith = []string{"needs that were entered too high"}
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

// dustRun follows one run in which dust may settle.
type dustRun struct {
	told bool
	fine int // days of use in a row on which it carried
}

// dustFine is how many days of use in a row a run must carry for its finding to end.
const dustFine = 5

// dustDay looks for runs in which the air of a machine at work is too slow to carry its chips.
func (e *Estimator) dustDay(order []*gateSet, solved map[string]*duct.Result) {
	used, slow := map[string]bool{}, map[string]bool{}
	for _, set := range order {
		res := solved[set.key]
		if res == nil {
			continue
		}
		var fresh []duct.RunFlow
		for _, r := range res.Runs {
			if r.Flow <= 0 || !e.carries(r.Name, res) {
				continue
			}
			used[r.Name] = true
			if r.Velocity >= e.transport()*(1-e.flowError()) {
				continue
			}
			slow[r.Name] = true
			if d := e.dust[r.Name]; d == nil || !d.told {
				fresh = append(fresh, r)
			}
		}
		e.tellDust(set, fresh)
	}
	for _, name := range sortedKeys(e.dust) {
		d := e.dust[name]
		switch {
		case slow[name]:
			d.fine = 0
		case used[name]:
			d.fine++
		}
		if f := e.standing(finding.DustMaySettle, name); f != nil && d.fine >= dustFine {
			f.Ended = e.lastAt
			d.told = false
		}
	}
}

// tellDust tells the runs of one gate set in which dust may settle and that have not been told yet. What was so from the
// drawing on is noted once; what did carry at the baseline asks for a look.
func (e *Estimator) tellDust(set *gateSet, runs []duct.RunFlow) {
	if len(runs) == 0 {
		return
	}
	carried := map[string]bool{}
	base := &state{logFilter: e.cal.logFilter, globals: e.cal.globals}
	if res, err := e.viewer.model.Solve(e.viewer.ductState(set, base, e.standardAir())); err == nil {
		for _, r := range res.Runs {
			carried[r.Name] = r.Velocity >= e.transport()*(1-e.flowError())
		}
	}
	for _, fresh := range []bool{false, true} {
		var names []string
		slowest := runs[0]
		for _, r := range runs {
			if carried[r.Name] != fresh {
				continue
			}
			if len(names) == 0 || r.Velocity < slowest.Velocity {
				slowest = r
			}
			names = append(names, r.Name)
			e.dust[r.Name] = &dustRun{told: true}
		}
		if len(names) > 0 {
			e.dustWords(set, names, slowest, fresh)
		}
	}
}

// dustWords writes the finding that dust may settle.
func (e *Estimator) dustWords(set *gateSet, names []string, slowest duct.RunFlow, fresh bool) {
	se := e.flowError() * slowest.Velocity
	q := detect.Quantile(confidence)
	f := finding.Finding{Collector: e.collector.Name, Kind: finding.DustMaySettle, Subject: slowest.Name, Priority: finding.Journal,
		Raised: e.lastAt, Onset: e.lastAt, OnsetLow: e.lastAt, OnsetHigh: e.lastAt, Confidence: confidence,
		Size: slowest.Velocity, SizeLow: slowest.Velocity - q*se, SizeHigh: slowest.Velocity + q*se, SizeUnit: "m/s"}
	f.ID = e.newID(f.Kind, slowest.Name, e.lastAt)
	where := fmt.Sprintf("run %q", names[0])
	if len(names) > 1 {
		where = "the runs " + listWords(names)
	}
	f.Text = fmt.Sprintf("Dust may settle in %s with %s open: %.0f m/s at the slowest, where %.0f m/s carries it.", where, gateWords(set), slowest.Velocity, e.transport())
	f.Action = "Open a second gate while this machine works, or after it, so that the ducts are swept clean now and then."
	f.Evidence = "The calibrated duct model."
	if fresh {
		f.Priority = finding.Plan
		f.Text += " At the baseline it was carried."
	} else {
		f.Ended = e.lastAt
		f.Text += " It is so by the drawing."
	}
	e.findings = append(e.findings, f)
}

// carries tells whether chips of an open machine pass a run.
func (e *Estimator) carries(run string, res *duct.Result) bool {
	for _, m := range res.Machines {
		if !m.Open {
			continue
		}
		for _, r := range e.collector.PathOf(m.Name) {
			if r.Name == run {
				return true
			}
		}
	}
	return false
}

// transport returns the velocity that carries dust, in m/s.
func (e *Estimator) transport() float64 {
	if e.collector.Transport > 0 {
		return e.collector.Transport
	}
	return 20
}

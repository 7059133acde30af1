package estimate

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/detect"
	"ductward/internal/duct"
	"ductward/internal/finding"
	"ductward/internal/steady"
)

// flowError is the relative standard error of a machine's flow by the calibrated model: half a sensor's gain, and what
// the drawing leaves unknown. Absolute flow is never better than the gain.
func (e *Estimator) flowError() float64 {
	return math.Hypot(gainPrior, e.cal.misfit/2)
}

// shortAir follows one machine's air against what it needs.
type shortAir struct {
	daysShort, daysFine int
}

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

// usualSet returns the gate set in which a machine is mostly used, nil if it has not been used lately.
func (e *Estimator) usualSet(machine string) *gateSet {
	var best *gateSet
	top := 0.0
	for _, u := range e.usages() {
		if u.hours <= top {
			continue
		}
		if slices.Contains(e.openMachines(u.set), machine) {
			best, top = u.set, u.hours
		}
	}
	return best
}

// openMachines lists the machines that a gate set joins to the collector.
func (e *Estimator) openMachines(set *gateSet) []string {
	if set.machines == nil {
		set.machines = []string{}
		if res, err := e.solveAt(set, 1); err == nil {
			set.flow = res.FanFlow
			for _, m := range res.Machines {
				if m.Open {
					set.machines = append(set.machines, m.Name)
				}
			}
		}
	}
	return set.machines
}

// widestSet returns the gate set of lately through which most air flows: a tenth of an hour at least.
func (e *Estimator) widestSet() *gateSet {
	var best *gateSet
	top := 0.0
	for _, u := range e.usages() {
		if u.hours < 0.1 {
			continue
		}
		if e.openMachines(u.set); u.set.flow > top {
			best, top = u.set, u.set.flow
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

// The probabilities and days that make a machine short of air.
const (
	shortProbability = 0.9
	fineProbability  = 0.5
	shortDays        = 2
	fineDays         = 3
	shortHours       = 0.1 // h: a machine that ran for less tells nothing
)

// airDay judges the air at each machine used on a day, in the gate set in which it was used longest.
func (e *Estimator) airDay(d *dayData) {
	type use struct {
		set   *gateSet
		hours float64
	}
	uses := map[string]use{}
	hours := map[string]float64{}
	for i := range d.obs {
		o := &d.obs[i]
		hours[o.set.key] += (o.run.End - o.run.Start).Hours()
	}
	ratio := math.Exp(d.filter[len(d.filter)-1].V)
	solved := map[string]*duct.Result{}
	for i := range d.obs {
		set := d.obs[i].set
		if set.kind != steady.Running || solved[set.key] != nil {
			continue
		}
		res, err := e.solveAt(set, ratio)
		if err != nil {
			continue
		}
		solved[set.key] = res
		e.settleDust(set, res, hours[set.key])
		for _, m := range res.Machines {
			if m.Open && !math.IsNaN(m.Needs) && hours[set.key] > max(uses[m.Name].hours, shortHours) {
				uses[m.Name] = use{set, hours[set.key]}
			}
		}
	}
	for _, name := range sortedKeys(uses) {
		u := uses[name]
		res := solved[u.set.key]
		for _, m := range res.Machines {
			if m.Name == name {
				e.judgeAir(m, u.set)
			}
		}
	}
}

// judgeAir raises or ends the finding that a machine has too little air.
func (e *Estimator) judgeAir(m duct.MachineFlow, set *gateSet) {
	se := e.flowError() * m.Flow
	p := detect.Below(m.Needs, m.Flow, se)
	s := e.short[m.Name]
	if s == nil {
		s = &shortAir{}
		e.short[m.Name] = s
	}
	switch {
	case p > shortProbability:
		s.daysShort, s.daysFine = s.daysShort+1, 0
	case p < fineProbability:
		s.daysShort, s.daysFine = 0, s.daysFine+1
	}
	standing := e.standing(finding.AirShort, m.Name)
	if standing != nil && s.daysFine >= fineDays {
		standing.Ended = e.lastAt
		return
	}
	if standing == nil {
		if s.daysShort < shortDays {
			return
		}
		f := finding.Finding{Collector: e.collector.Name, Kind: finding.AirShort, Subject: m.Name, Raised: e.lastAt,
			Onset: e.lastAt, OnsetLow: e.lastAt, OnsetHigh: e.lastAt}
		f.ID = e.newID(f.Kind, m.Name, e.lastAt)
		e.findings = append(e.findings, f)
		standing = &e.findings[len(e.findings)-1]
	}
	if p < fineProbability {
		return // the words of the day on which it was short stand until it is over
	}
	e.shortWords(standing, m, set, se, p)
}

// shortWords writes the finding that a machine has too little air.
func (e *Estimator) shortWords(f *finding.Finding, m duct.MachineFlow, set *gateSet, se, p float64) {
	q := detect.Quantile(confidence)
	lack := m.Needs - m.Flow
	f.Priority = finding.Plan
	if m.Flow < m.Needs/2 {
		f.Priority = finding.ActToday
	}
	f.Size, f.SizeLow, f.SizeHigh, f.SizeUnit, f.Confidence = lack, lack-q*se, lack+q*se, "m3/s", confidence
	f.Text = fmt.Sprintf("%s gets %s of the %s that it needs, with %s open (%.0f %% sure that it is too little).",
		m.Name, flowWords(m.Flow, se), flowWords(m.Needs, 0), gateWords(set), 100*p)
	f.Action = "Shut gates that are not in use. If it is short with its own gate alone, clean the filter if it is loaded, and look at its hose and hood; the leaks found take air from it too."
	f.Evidence = "The calibrated duct model at the filter's resistance and the leakage of the day."
	f.ConfusableWith = []string{"a need that was entered too high"}
}

// gateWords lists the gates of a set.
func gateWords(set *gateSet) string {
	switch len(set.open) {
	case 0:
		return "no gate"
	case 1:
		return "gate " + set.open[0]
	}
	out := "gates " + set.open[0]
	for i, g := range set.open[1:] {
		if i == len(set.open)-2 {
			out += " and " + g
		} else {
			out += ", " + g
		}
	}
	return out
}

// settleDust notes, once a run, where the air is too slow to carry dust: from the drawing on it asks for a gate set to be
// avoided, later for a look at what has changed.
func (e *Estimator) settleDust(set *gateSet, res *duct.Result, hours float64) {
	if hours < shortHours {
		return
	}
	least := e.transport()
	for _, r := range res.Runs {
		if r.Flow <= 0 || !e.carries(r.Name, res) || r.Velocity >= least*(1-e.flowError()) || e.settling[r.Name] {
			continue
		}
		e.settling[r.Name] = true
		se := e.flowError() * r.Velocity
		priority := finding.Journal
		if base, err := e.viewer.model.Solve(e.viewer.ductState(set, &state{logFilter: e.cal.logFilter, globals: e.cal.globals}, e.standardAir())); err == nil {
			for _, b := range base.Runs {
				if b.Name == r.Name && b.Velocity >= least {
					priority = finding.Plan // it did carry at the baseline
				}
			}
		}
		f := finding.Finding{Collector: e.collector.Name, Kind: finding.DustMaySettle, Subject: r.Name, Priority: priority,
			Raised: e.lastAt, Onset: e.lastAt, OnsetLow: e.lastAt, OnsetHigh: e.lastAt,
			Size: r.Velocity, SizeLow: r.Velocity - 1.645*se, SizeHigh: r.Velocity + 1.645*se, SizeUnit: "m/s", Confidence: confidence}
		f.ID = e.newID(f.Kind, r.Name, e.lastAt)
		f.Text = fmt.Sprintf("Dust may settle in run %q with %s open: %.0f m/s where %.0f m/s carries chips.", r.Name, gateWords(set), r.Velocity, least)
		f.Action = "Open a second gate while this machine works, or after it, so that the run is swept clean now and then."
		f.Evidence = "The calibrated duct model."
		if priority == finding.Journal {
			f.Ended = e.lastAt
		}
		e.findings = append(e.findings, f)
	}
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

package estimate

import (
	"fmt"
	"slices"

	"ductward/internal/detect"
	"ductward/internal/diagnosis"
	"ductward/internal/duct"
	"ductward/internal/finding"
)

// dustRun follows one run in which dust may settle.
type dustRun struct {
	told bool
	fine int // days of use in a row on which it carried
}

// dustFine is how many days of use in a row a run must carry for its finding to end.
const dustFine = 5

// dustDay looks for runs in which the air of a machine at work is too slow to carry its chips.
func (e *Estimator) dustDay(order []*gateSet, solved map[string]*duct.Result, ratio float64) {
	used, slow := map[string]bool{}, map[string]*gateSet{}
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
			slow[r.Name] = set
			if d := e.dust[r.Name]; d == nil || !d.told {
				fresh = append(fresh, r)
			}
		}
		e.tellDust(set, fresh)
	}
	for _, name := range sortedKeys(slow) {
		if f := e.standing(finding.DustMaySettle, name); f != nil { // without what is behind it, it goes on for some days of use
			f.Under = e.behind(slow[name], ratio, e.sweeps(name))
		}
	}
	for _, name := range sortedKeys(e.dust) {
		d := e.dust[name]
		switch {
		case slow[name] != nil:
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

// sweeps tells whether the air carries dust through a run in a solved state.
func (e *Estimator) sweeps(run string) func(*duct.Result) bool {
	return func(res *duct.Result) bool {
		return slices.ContainsFunc(res.Runs, func(r duct.RunFlow) bool {
			return r.Name == run && r.Velocity >= e.transport()*(1-e.flowError())
		})
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
	f.Text = fmt.Sprintf("Dust may settle in %s with %s open: %.1f m/s at the slowest, where %.1f m/s carries it.", where, gateWords(set), slowest.Velocity, e.transport())
	f.Action = diagnosis.Of(f.Kind).Action(slowest.Name)
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
	if e.undrawn {
		return false // of ducts that are assumed no velocity is known
	}
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

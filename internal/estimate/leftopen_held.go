package estimate

import (
	"slices"
	"strings"
	"time"

	"ductward/internal/finding"
	"ductward/internal/whichopen"
)

// A gate comes and goes with whoever opens and shuts it. A leak that has begun, a hood that was changed and a fan that became
// slow stay. So a run that may be one with a gate open beside those that are told waits for the rest of its day: what stays must
// show in the runs that come after.

// held is a run that does not read as its gates are told, with the probabilities of what it may be instead.
type held struct {
	gates []float64 // by machine: its gate is open too
	hoods []float64 // by machine: its hood or drop was changed
	other float64   // something that shows in every run: a leak, the fan
	none  float64   // nothing that was thought of
	found bool      // a gate was found open at that time, and its finding stood
}

// cameAndWent is how probable it is that what stays was gone again some runs later (common practice, no source).
const cameAndWent = 0.02

// heldBy sums up the belief about a run.
func (e *Estimator) heldBy(b whichopen.Belief) *held {
	n := len(e.cols.machines)
	h := &held{none: b.None, gates: make([]float64, n), hoods: make([]float64, n)}
	for _, g := range b.Sets {
		kind, name, _ := strings.Cut(g.Key, ":")
		switch m := slices.Index(e.cols.machines, name); kind {
		case "open":
			h.gates[m] += g.Probability
		case "hood":
			h.hoods[m] += g.Probability
		case "told":
			h.none += g.Probability
		default:
			h.other += g.Probability
		}
	}
	return h
}

// likeliest returns the machine whose gate is most probably open.
func (h *held) likeliest() int { return slices.Index(h.gates, slices.Max(h.gates)) }

// isGate tells whether a run is more probably one with a gate open than not, the runs of its day that came after it being
// known.
func (h *held) isGate(after []observation) bool {
	gate, gates := h.likeliest(), 0.0
	for _, p := range h.gates {
		gates += p
	}
	rest := h.none + h.other*left(after, func(o *observation) bool { return !slices.Contains(o.set.machines, gate) })
	for m, p := range h.hoods {
		if p > 0 {
			rest += p * left(after, func(o *observation) bool { return slices.Contains(o.set.machines, m) })
		}
	}
	return gates >= leftOutBar*(gates+rest)
}

// left returns what is left of the probability of something that stays, the runs that came after it being known, in some of
// which it shows.
func left(after []observation, shows func(*observation) bool) float64 {
	for i := range after {
		if o := &after[i]; o.asTold && shows(o) {
			return cameAndWent
		}
	}
	return 1
}

// leaveOut takes the runs out of a day that are more probably ones with a gate open than not: where that gate was found open,
// or where a run after them, with it told shut, was as told. A gate that lets air in all the time and is not found leaks, and its
// runs say so.
func (d *dayData) leaveOut() {
	var out []observation
	for i := range d.obs {
		h, after := d.obs[i].held, d.obs[i+1:]
		goes := func(o observation) bool { return o.asTold && !slices.Contains(o.set.machines, h.likeliest()) }
		if h == nil || !h.found && !(slices.ContainsFunc(after, goes) && h.isGate(after)) {
			out = append(out, d.obs[i])
		}
	}
	d.obs = out
}

// foundOtherwise takes in that a gate was found to stand otherwise than told: the runs just before that did not read as told were so
// too, or it was moved in one of them.
func (d *dayData) foundOtherwise() {
	for i := len(d.obs) - 1; i >= 0 && !d.obs[i].asTold; i-- {
		if h := d.obs[i].held; h != nil {
			h.found = true
		}
	}
}

// againDays is for how long a gate that was found open is looked at again, and leftOpenAgain the probability that it is open in
// a run then: a switch that tells nothing goes on telling nothing (common practice, no source).
const (
	againDays     = 4
	leftOpenAgain = 0.1
)

// leftOpenLately lists the findings of gates left open that were raised not long ago.
func (e *Estimator) leftOpenLately() []*finding.Finding {
	var out []*finding.Finding
	for i := range e.findings {
		f := &e.findings[i]
		if f.Kind == finding.GateLeftOpen && (f.Active() || e.lastAt.Sub(f.Raised) < againDays*24*time.Hour) {
			out = append(out, f)
		}
	}
	return out
}

// openBefore returns an earlier finding, not long ago, of the one gate that a finding names; nil where there is none. A gate that is
// open whenever it is told shut is no forgotten one: using it in between ends nothing.
func (e *Estimator) openBefore(f *finding.Finding) *finding.Finding {
	if f.Subject == "" {
		return nil
	}
	for _, was := range e.leftOpenLately() {
		if was.ID != f.ID && was.Subject == f.Subject && !was.Active() {
			return was
		}
	}
	return nil
}

// standsOpen tells whether a gate is open by a finding that stands, and was raised not so long ago that nothing but that would
// have been told since.
func (e *Estimator) standsOpen() bool {
	return slices.ContainsFunc(e.leftOpenLately(), func(f *finding.Finding) bool {
		return f.Active() && e.lastAt.Sub(f.Raised) < againDays*24*time.Hour
	})
}

// openAgain returns how probable it is, by machine, that its gate is open once more though it is told shut.
func (e *Estimator) openAgain() []float64 {
	out := make([]float64, len(e.cols.machines))
	for _, f := range e.leftOpenLately() {
		for _, m := range e.suspectsOf(f) {
			for _, p := range f.Where {
				if slices.Contains(e.collector.MachineGates(e.cols.machines[m]), strings.TrimPrefix(p.Part, "seat:")) {
					out[m] = max(out[m], leftOpenAgain*p.Probability)
				}
			}
		}
	}
	return out
}

// suspectsOf lists the machines, by their number among the columns, that a finding's gates belong to.
func (e *Estimator) suspectsOf(f *finding.Finding) []int {
	var out []int
	for m, name := range e.cols.machines {
		if slices.ContainsFunc(gatesOf(f.Where), func(g string) bool { return slices.Contains(e.collector.MachineGates(name), g) }) {
			out = append(out, m)
		}
	}
	return out
}

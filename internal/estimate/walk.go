package estimate

import (
	"fmt"
	"slices"

	"ductward/internal/steady"
)

// Step is one step of a walk through the gates: those that open one machine and nothing else.
type Step struct {
	Machine string
	Open    []string      // gates, sorted
	Ports   []steady.Port // selectors, sorted by name

	Set   string // names gates and selectors: see Now
	Done  bool   // the baseline in the making has seen it
	Borne bool   // the ducts are known to bear it: only such a step is ever proposed
	Rated bool   // it is known of every run what it is rated for
}

// walk lists the steps of a walk through the gates, in the order of the shop file. The ducts bear a step by their ratings;
// where one is missing, only what the shop has run before is borne.
func (e *Estimator) walk() []Step {
	if e.viewer == nil {
		return nil
	}
	visited, rated := e.visited(), e.rated()
	var out []Step
	for _, m := range e.collector.Machines {
		set := e.aloneSet(m.Name)
		if set == nil {
			continue
		}
		s := Step{Machine: m.Name, Open: slices.Clone(set.open), Set: set.name(), Done: visited[set.key], Borne: e.bears(set), Rated: rated}
		for _, name := range sortedKeys(set.setting.Port) {
			s.Ports = append(s.Ports, steady.Port{Selector: name, Port: set.setting.Port[name]})
		}
		out = append(out, s)
	}
	return out
}

// visited are the gate sets that the baseline in the making has seen, by key.
func (e *Estimator) visited() map[string]bool {
	out := map[string]bool{}
	for _, d := range e.gathered {
		for i := range d.obs {
			out[d.obs[i].set.key] = true
		}
	}
	if e.open == nil || e.cal != nil && e.asked != newBaseline {
		return out
	}
	from := 0
	if e.asked == newBaseline {
		from = min(e.earlier, len(e.open.obs))
	}
	for i := range e.open.obs[from:] {
		out[e.open.obs[from+i].set.key] = true
	}
	return out
}

// walkWords says what a walk through the gates would add to the baseline in the making.
func (e *Estimator) walkWords() string {
	var missing []string
	refused := 0
	for _, s := range e.walk() {
		switch {
		case s.Done:
		case s.Borne:
			missing = append(missing, s.Machine)
		default:
			refused++
		}
	}
	slices.Sort(missing)
	words := ""
	if len(missing) > 0 {
		words = fmt.Sprintf(" With all machines idle, open the gates of these alone for two minutes each: %s.", listWords(missing))
	}
	if refused > 0 {
		if e.rated() {
			words += " Some gates are not proposed alone: the suction would exceed what the ducts are rated for."
		} else {
			words += " No set of gates is proposed that the shop does not run anyway: the ducts' rating for negative pressure is not entered."
		}
	}
	return words
}

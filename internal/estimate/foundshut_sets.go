package estimate

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ductward/internal/steady"
	"ductward/internal/whichopen"
)

const (
	shutChance    = 0.01  // that a gate that is told open, and was, was shut since the run before (common practice, no source)
	pluggedChance = 0.002 // that one that was just told to be opened is not, or passes nothing (the same)
	shutTwice     = 10.0  // how much more probable it is that a second gate is shut where one is: who forgets one forgets more (the same)
	staysShut     = 0.95  // that a gate that was shut so in a run is in the next (the same)
	suspectShut   = 0.3   // so probably shut, a gate is not taken to be open because a run reads as told
)

// gatesToldOpen lists the gates of a machine that a run is told with.
func (e *Estimator) gatesToldOpen(machine string, r *steady.Run) []string {
	return slices.DeleteFunc(slices.Clone(e.collector.MachineGates(machine)), func(g string) bool { return !slices.Contains(r.Open, g) })
}

// wasOpen tells whether a machine that a run is told with was open since its gates were told to be.
func (e *Estimator) wasOpen(m int, r *steady.Run) bool {
	return !slices.ContainsFunc(e.gatesToldOpen(e.cols.machines[m], r), func(g string) bool { return !e.telling.Open[g] })
}

// lessTwoOf is of how many machines that are told open at most two are tried to be shut at once: one solution of the ducts each.
const lessTwoOf = 6

// lessSets lists the gate sets of a run with one machine less than it is told, or two, with how probable each is beforehand.
func (e *Estimator) lessSets(o *observation) []lessSet {
	var out []lessSet
	told := o.set.machines
	for i, m := range told {
		out = append(out, e.lessSet(o, m)...)
		for _, n := range told[:i] {
			if len(told) > lessTwoOf {
				break
			}
			out = append(out, e.lessSet(o, n, m)...)
		}
	}
	return out
}

// lessSet is a gate set with some machines less than told.
type lessSet struct {
	set     gateSet
	without []int
	chance  float64 // against that it is as told
}

// lessSet returns the gate set of a run without some of the machines that it is told with; none where no gate can shut one off.
func (e *Estimator) lessSet(o *observation, without ...int) []lessSet {
	left, chance, least := o.set.machines, 1.0, math.Inf(1)
	for _, m := range without {
		gates := e.gatesToldOpen(e.cols.machines[m], o.run)
		if len(gates) == 0 {
			return nil
		}
		left = toggled(left, m)
		odds := e.shutOdds(m, gates, o.run)
		chance, least = chance*odds, min(least, odds)
	}
	if len(without) > 1 {
		chance = min(shutTwice*chance, max(chance, least))
	}
	set, ok := e.settingOf(o, left)
	if !ok || set.key == o.set.key {
		return nil
	}
	return []lessSet{{set, without, chance}}
}

// shutOdds are those that a machine is shut off that is told open: as the runs so far leave it, or that it was shut since the last.
func (e *Estimator) shutOdds(m int, gates []string, r *steady.Run) float64 {
	odds := shutChance
	if !e.wasOpen(m, r) {
		odds = pluggedChance
	}
	for _, g := range gates {
		p := staysShut * e.telling.Shut[g]
		odds = max(odds, p/(1-p))
	}
	return odds
}

// key names it among what a run may be.
func (s *lessSet) key() string {
	return "shut:" + fmt.Sprint(s.without)
}

// shutGate is a gate that may be shut though it is told open.
type shutGate struct {
	machine     int
	gate        string
	probability float64
	flow        float64 // m³/s that the fan then draws less
}

// shutGates turns the probabilities into the gates that may be shut, the likeliest first, and the probability that any is.
func (e *Estimator) shutGates(o *observation, b whichopen.Belief, filter float64) (gates []shutGate, sum float64) {
	told := e.expect(o.set, filter, o.air).flow
	by := map[int]*shutGate{}
	sets := e.lessSets(o)
	for _, g := range b.Sets {
		i := slices.IndexFunc(sets, func(s lessSet) bool { return s.key() == g.Key })
		if i < 0 {
			continue
		}
		sum += g.Probability
		less := told - e.expect(&sets[i].set, filter, o.air).flow
		for _, m := range sets[i].without {
			if by[m] == nil {
				by[m] = &shutGate{machine: m, gate: e.gatesToldOpen(e.cols.machines[m], o.run)[0]}
			}
			by[m].probability += g.Probability
			by[m].flow += g.Probability * less / float64(len(sets[i].without))
		}
	}
	for _, m := range o.set.machines {
		if g := by[m]; g != nil && g.probability >= 0.01 {
			g.flow /= g.probability
			gates = append(gates, *g)
		}
	}
	slices.SortStableFunc(gates, func(a, b shutGate) int { return cmp.Compare(b.probability, a.probability) })
	return gates, sum
}

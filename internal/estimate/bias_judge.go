package estimate

import (
	"math"
	"slices"
)

// setPasses is how often the baseline's days are asked how well they know their gate sets: how well one is known hangs on the others.
const setPasses = 2

// judgeSets works out how well the baseline knows the ratio of each of its gate sets against those of the others: what a day is off
// by in all of them alike drops out, and so does a hood that stood the same in two of them. How a hood stood on the
// mean of the baseline all sets of its machine share: that is added to each.
func (e *Estimator) judgeSets(days []*dayData, x0 []float64) {
	uses, used := e.countUses(days)
	for range setPasses {
		told := map[string][]float64{} // by gate set and channel: 1/variance
		for _, d := range days {
			if !e.fitDay(d, x0, e.cal.logFilter) {
				continue
			}
			if s, ok := e.show(d, e.held()); ok {
				s.tellSets(told)
			}
		}
		for _, key := range sortedKeys(told) {
			variance := slices.Clone(e.cal.variance[key])
			common, before := e.usualError(e.sets[key], uses, used), e.beforeChecks(e.sets[key])
			for c, t := range told[key] {
				variance[c] = 1/(1/before[c]+t) + common[c]
			}
			e.cal.variance[key] = variance
		}
	}
}

// beforeChecks returns, by channel, the variance of a set's ratio before anything of that set was read. With every gate shut all air is
// leakage as built, which no other set tells.
func (e *Estimator) beforeChecks(g *gateSet) []float64 {
	out := slices.Clone(e.cal.freshVar)
	for c, x := range e.leakageError(g, globalPrior[leakGlobal]*globalPrior[leakGlobal]) {
		out[c] += x
	}
	return out
}

// tellSets adds what a day tells of each of its gate sets to told.
func (s *shown) tellSets(told map[string][]float64) {
	runs := s.runsBySet()
	for _, key := range sortedKeys(runs) {
		set := s.d.obs[runs[key][0]].set
		_, variance, ok := s.setShown(set, runs[key])
		if !ok || s.e.cal.variance[key] == nil {
			continue
		}
		if told[key] == nil {
			told[key] = make([]float64, s.n.channels)
		}
		for c, v := range s.setVariance(set) {
			told[key][c] += math.Max(1/variance[c]-1/v, 0)
		}
	}
}

// countUses returns, by machine, how often it was used on some days, and on how many.
func (e *Estimator) countUses(days []*dayData) (uses, used []float64) {
	uses, used = make([]float64, len(e.cols.machines)), make([]float64, len(e.cols.machines))
	for _, d := range days {
		today := map[int]bool{}
		for _, m := range e.markUses(d.obs) {
			uses[m]++
			today[m] = true
		}
		for m := range today {
			used[m]++
		}
	}
	return uses, used
}

// usualError returns, by channel, the variance of what all sets of a machine are off by alike: how its hood stood in the baseline,
// on the mean.
func (e *Estimator) usualError(g *gateSet, uses, used []float64) []float64 {
	out := make([]float64, len(e.cols.channels))
	v, _, _, err := e.viewer.at(g, &state{logFilter: e.cal.logFilter, globals: e.cal.globals}, e.standardAir())
	if err != nil {
		return out // its runs are left out too
	}
	for _, m := range g.machines {
		hood := math.Pow(e.hoods.sd(m), 2)/math.Max(uses[m], 1) + math.Pow(e.hoodDays.sd(m), 2)/math.Max(used[m], 1)
		for c := range out {
			out[c] += hood * math.Pow(v.jac[c][e.cols.block0+m], 2)
		}
	}
	return out
}

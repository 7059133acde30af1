package estimate

import (
	"math"
	"slices"
)

// setPasses is how often the baseline's days are asked how well they know their gate sets: how well one is known hangs on the others.
const setPasses = 2

// judgeSets works out how well the baseline knows the ratio of each of its gate sets against those of the others: what a day is off
// by in all of them alike drops out, and so does a hood that stood the same in two of them.
func (e *Estimator) judgeSets(days []*dayData, x0 []float64) {
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
			for c, t := range told[key] {
				variance[c] = 1 / (1/e.cal.freshVar[c] + t)
			}
			e.cal.variance[key] = variance
		}
	}
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

package estimate

import "gonum.org/v1/gonum/mat"

// shown is a day as it shows the hoods: solved with all that is known to have changed, every run at its full weight.
type shown struct {
	*system
	d    *dayData
	x    *mat.VecDense
	chol *mat.Cholesky
}

// show returns a day that has been fitted as it shows the hoods and the gate sets, false where it cannot be solved. What may change
// for good lies about what is known of it with the standard deviations changes.
func (e *Estimator) show(d *dayData, changes []float64) (*shown, bool) {
	guess := make([]float64, d.parts)
	for p := range guess {
		guess[p] = d.filter[p].V
	}
	weights := make([]float64, len(d.obs))
	for i := range weights {
		weights[i] = 1
	}
	sys := e.assemble(d, e.known(d.at), guess, weights)
	x, chol := sys.solve(changes)
	if x == nil {
		return nil, false
	}
	return &shown{sys, d, x, chol}, true
}

// learnDay takes in what a day that has been fitted shows of the gate sets and of the hoods.
func (e *Estimator) learnDay(d *dayData) {
	s, ok := e.show(d, e.settlePriors())
	if !ok {
		return
	}
	s.learnSets()
	uses, stirs := e.hoods.all(), e.stirs.all()
	s.learnHoodDay(&e.hoodDays, &e.creep)
	e.hoods.fade()
	e.stirs.fade()
	s.learnUses(&e.hoods, uses)
	s.learnStirs(&e.stirs, stirs)
}

// learnBaselineStirs learns from the baseline's days how much the hoods are stirred within a use.
func (e *Estimator) learnBaselineStirs(days []*dayData, x0 []float64) {
	for range stirPasses {
		stirs := newStirs(len(e.cols.machines))
		for _, d := range days {
			if !e.fitDay(d, x0, e.cal.logFilter) {
				continue
			}
			if s, ok := e.show(d, e.held()); ok {
				s.learnStirs(&stirs, e.stirs.all())
			}
		}
		e.stirs = stirs
	}
}

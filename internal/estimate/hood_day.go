package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Some hoods stand otherwise at each use, and some as they were left in the morning: a guard, a hose that lies as it was
// thrown. The uses of one day then all deviate alike, and are one witness and not ten. So the scatter has two parts, that
// from use to use within a day and that from day to day, each learnt from the record: of what a day says of a machine
// together, the likelihood of each of a row of standard deviations.
const (
	hoodDayPrior = 0.015 // of a machine's losses, each day that it is used: a quarter of the scatter's variance (common practice, no source)
	hoodDayLeast = 0.0025
	// hoodDayTold is the share of the prior's variance that a day must take away from how a hood stands on it to be asked.
	hoodDayTold = 0.1
	hoodDayHeld = 1e-5 // of any change, in its own unit: held
)

// hoodSD returns the standard deviation of the log of a machine's losses at a use about which nothing else is known.
func (e *Estimator) hoodSD(machine int) float64 {
	return math.Hypot(math.Hypot(e.hoods.sd(machine), e.hoodDays.sd(machine)), e.stirs.sd(machine))
}

// addDay takes in how a machine's hood stood on a day, as it is found, with the variance of that, where it was believed to
// stand as usual with the variance prior. That belief is taken out again.
func (h *hoods) addDay(machine int, found, variance, prior float64) {
	h.addFound(machine, found, variance, prior, hoodDayTold, 1)
}

// addFound is addDay for any witness, which counts as so much of one and must take away a share least of the prior's variance.
func (h *hoods) addFound(machine int, found, variance, prior, least, share float64) {
	if deviation, own, ok := witness(found, variance, prior, least); ok {
		h.add(machine, deviation, own, share)
	}
}

// witness takes the belief out again by which something was found with a variance: that it lay about 0 with the variance prior. It
// returns false where less than a share least of that was taken away.
func witness(found, variance, prior, least float64) (deviation, own float64, ok bool) {
	if variance > (1-least)*prior {
		return 0, 0, false
	}
	told := 1/variance - 1/prior
	return found / variance / told, 1 / told, true
}

// held returns the standard deviations of changes that are where they are known to be.
func (e *Estimator) held() []float64 {
	held := make([]float64, e.cols.changes)
	for j := range held {
		held[j] = hoodDayHeld
	}
	return held
}

// learnHoodDay takes what a day shows of how its hoods stood on it, about where they have crept to, and how far they creep. All that
// may change for good is held where it is known to be: what the day allows of leaks would hide the hoods behind them.
func (s *system) learnHoodDay(h *hoods, w *creep) {
	was := h.all()
	x, chol := s.solve(s.e.held())
	h.fade()
	w.nextDay()
	if x == nil {
		return
	}
	for m, sd := range was {
		col := s.e.cols.block0 + m
		v := varianceOf(chol, col)
		if deviation, own, ok := witness(x.AtVec(col), v, sd*sd, hoodDayTold); ok {
			crept, of := w.stands(m)
			h.add(m, deviation-crept, own+of, 1)
		}
		w.add(m, x.AtVec(col), v, sd*sd)
	}
}

// hoodDays returns what the baseline's days show of how the hoods stood on them.
func (f *baselineFit) hoodDays() hoods {
	out, was := newHoods(len(f.e.cols.machines), hoodDayPrior, hoodDayLeast), f.e.hoodDays.all()
	for d := range f.days {
		for m, sd := range was {
			i := f.hood(d, m)
			out.addDay(m, f.x[i], varianceOf(&f.chol, i), sd*sd)
		}
	}
	return out
}

// varianceOf returns one unknown's variance from the factor of the information.
func varianceOf(chol *mat.Cholesky, i int) float64 {
	n := chol.SymmetricDim()
	unit, column := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	unit.SetVec(i, 1)
	_ = chol.SolveVecTo(column, unit) // positive definite by its priors
	return column.AtVec(i)
}

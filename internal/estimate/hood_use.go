package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A hood stands as it stands until its machine's gate is shut: other gates open and shut meanwhile, and what they change is seen
// with one and the same hood, which drops out of the difference. So each use of a machine is an unknown of its day. How much
// a hood is stirred within a use, by work pieces and guards, is learnt beside it, since the difference is known no better than that.
const (
	stirPrior  = 0.005 // of a machine's losses, from run to run of one use (common practice, no source)
	stirLeast  = 0.001
	stirShared = 40.0 // see hoods.alike: how firmly work is held and hoods are set is the habit of a shop
	stirPasses = 4    // over the baseline's days, to learn it before anything is judged
)

// hoodStir is the standard deviation of the log of a machine's losses in a run beside how its hood stands at that use.
func (e *Estimator) hoodStir(o *observation, k int) float64 { return e.stirs.sd(o.set.machines[k]) }

// hoodAlone is that of a run whose use is no unknown. All runs of one use have the same error.
func (e *Estimator) hoodAlone(o *observation, k int) float64 {
	m := o.set.machines[k]
	sd := e.hoods.sd(m)
	if k < len(o.shares) {
		sd /= math.Sqrt(o.shares[k])
	}
	return math.Hypot(sd, e.stirs.sd(m))
}

// newStirs returns what is believed of the hoods within a use before anything is seen.
func newStirs(machines int) hoods {
	h := newHoods(machines, stirPrior, stirLeast)
	h.alike = stirShared
	return h
}

// takenByUses returns how many degrees of freedom the uses of a day take.
func (s *system) takenByUses(chol *mat.Cholesky) float64 {
	taken := 0.0
	for u, v := range lastVariances(chol, s.n.uses) {
		sd := s.e.hoods.sd(s.uses[u])
		taken += 1 - v/(sd*sd)
	}
	return taken
}

// lastVariances returns the variances of the last n unknowns from the factor of the information: what L⁻¹ makes of their unit
// vectors lies in its last n rows alone.
func lastVariances(chol *mat.Cholesky, n int) []float64 {
	var low mat.TriDense
	chol.LTo(&low)
	from := chol.SymmetricDim() - n
	out, x := make([]float64, n), make([]float64, n)
	for u := range n {
		for i := u; i < n; i++ {
			sum := 0.0
			if i == u {
				sum = 1
			}
			for k := u; k < i; k++ {
				sum -= low.At(from+i, from+k) * x[k]
			}
			x[i] = sum / low.At(from+i, from+i)
			out[u] += x[i] * x[i]
		}
	}
	return out
}

// learnUses takes what a day shows of how the hoods stood at its uses; was is what was believed of them.
func (s *shown) learnUses(h *hoods, was []float64) {
	first := s.x.Len() - s.n.uses
	for u, v := range lastVariances(s.chol, s.n.uses) {
		m := s.uses[u]
		h.addDay(m, s.x.AtVec(first+u), v, was[m]*was[m])
	}
}

// stirTold is as hoodDayTold, for a run: what moves as little as hoods mostly do within a use is seen by many runs together.
const stirTold = 0.02

// learnStirs takes what the runs of a day show of their hoods beside their uses; was is what was believed of them. A use of one
// run shows nothing, one of several is a witness less than it has runs.
func (s *shown) learnStirs(h *hoods, was []float64) {
	for i := range s.rows {
		o := &s.d.obs[i]
		if len(s.rows[i].y) == 0 || guessed(o) {
			continue
		}
		noise, ok := s.runNoise(i)
		if !ok {
			continue
		}
		for k, m := range o.set.machines {
			if prior := was[m] * was[m]; o.shares[k] < 1 && prior > 0 {
				found, variance := s.stirOf(i, s.e.cols.block0+m, prior, noise)
				h.addFound(m, found, variance, prior, stirTold, 1-o.shares[k])
			}
		}
	}
}

// runNoise returns the factor of the covariance of a run's whitened rows, the error of its set's ratio among it.
func (s *shown) runNoise(i int) (*mat.Cholesky, bool) {
	l, o := &s.rows[i], &s.d.obs[i]
	n, c0 := len(l.y), s.e.cols.gain0
	cov := mat.NewSymDense(n, nil)
	for r := range n {
		cov.SetSym(r, r, 1)
	}
	for c, v := range s.setVariance(o.set) {
		along := mat.NewVecDense(n, nil)
		for r := range n {
			along.SetVec(r, l.x[r][c0+c])
		}
		cov.SymRankOne(cov, v, along)
	}
	var chol mat.Cholesky
	return &chol, chol.Factorize(cov)
}

// stirOf returns how otherwise a hood stood in a run than at its use, with the variance of that, all else being as uncertain as the
// day leaves it. The covariance of the run holds the hood's own variance, prior.
func (s *shown) stirOf(i, col int, prior float64, noise *mat.Cholesky) (found, variance float64) {
	l := &s.rows[i]
	n := len(l.y)
	along, rest := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	for r, y := range l.y {
		along.SetVec(r, l.x[r][col])
		rest.SetVec(r, y-s.predict(l.x[r], s.x, nil))
	}
	var weighed mat.VecDense
	_ = noise.SolveVecTo(&weighed, along) // at least the unit matrix
	to := mat.NewVecDense(s.x.Len(), nil)
	for r := range n {
		to.AddScaledVec(to, weighed.AtVec(r), mat.NewVecDense(len(l.x[r]), l.x[r]))
	}
	var back mat.VecDense
	_ = s.chol.SolveVecTo(&back, to) // positive definite by its priors
	return prior * mat.Dot(&weighed, rest), prior - prior*prior*(mat.Dot(&weighed, along)-mat.Dot(to, &back))
}

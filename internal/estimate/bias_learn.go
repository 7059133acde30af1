package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/steady"
)

// learnSets takes what a day says about gate sets that the baseline had not seen, or hardly: the rest of the day knows the filter,
// the fan and how the hoods stand, so what is left in the new set is its own ratio. With every gate shut nothing else knows the
// leakage, and a leak that grows slowly would be learnt as that ratio: what the baseline saw of it stands.
func (s *shown) learnSets() {
	cal := s.e.cal
	runs := s.runsBySet()
	for _, key := range sortedKeys(runs) {
		var open []int
		for c := range s.n.channels {
			if !s.e.wellKnown(key, c) {
				open = append(open, c)
			}
		}
		if cal.shut[key] || len(open) == 0 {
			continue
		}
		set := s.d.obs[runs[key][0]].set
		found, variance, ok := s.setShown(set, runs[key])
		if !ok {
			continue
		}
		bias, was := append([]float64(nil), s.e.biasOf(key)...), append([]float64(nil), s.e.biasVariance(set)...)
		least := s.e.baselineLeft(set)
		for _, c := range open {
			bias[c] += (1 + bias[c]) * found[c]
			was[c] = max(min(was[c], variance[c]), least[c])
		}
		cal.bias[key], cal.variance[key] = bias, was
	}
}

// baselineLeft returns, by channel, below which variance the ratio of a set with every gate shut is not known that the baseline had
// not: it is learnt from what the other runs of each day say of leakage, and what these are off by since the baseline is the same on
// all days. It is nothing for any other set.
func (e *Estimator) baselineLeft(g *gateSet) []float64 {
	out := make([]float64, len(e.cols.channels))
	zone := e.cols.commonLeak()
	if g.kind != steady.Closed || zone < 0 {
		return out
	}
	v, _, _, err := e.viewer.at(g, &state{logFilter: e.cal.logFilter, globals: e.cal.globals}, e.standardAir())
	if err != nil {
		return out
	}
	known := e.baseVariances()[zone]
	for c := range out {
		out[c] = v.jac[c][zone] * v.jac[c][zone] * known
	}
	return out
}

// runsBySet lists the runs of a day whose gates were not guessed, by gate set.
func (s *shown) runsBySet() map[string][]int {
	runs := map[string][]int{}
	for i := range s.d.obs {
		if o := &s.d.obs[i]; len(s.rows[i].y) > 0 && !guessed(o) {
			runs[o.set.key] = append(runs[o.set.key], i)
		}
	}
	return runs
}

// setShown returns, by channel, by how much the bias of a gate set is otherwise than believed, with the variance of that, all else
// being as uncertain as the day leaves it; false where it cannot be solved.
func (s *shown) setShown(set *gateSet, runs []int) (found, variance []float64, ok bool) {
	n, c0 := s.n.channels, s.e.cols.gain0
	normal, rhs := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	cross := mat.NewDense(s.x.Len(), n, nil)
	for c, v := range s.setVariance(set) {
		normal.SetSym(c, c, 1/math.Max(v, 1e-12))
	}
	for _, i := range runs {
		l := &s.rows[i]
		for r, y := range l.y {
			row, g := mat.NewVecDense(len(l.x[r]), l.x[r]), mat.NewVecDense(n, l.x[r][c0:c0+n])
			normal.SymRankOne(normal, 1, g)
			rhs.AddScaledVec(rhs, y-s.predict(l.x[r], s.x, nil), g)
			cross.RankOne(cross, 1, row, g)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return nil, nil, false
	}
	var b mat.VecDense
	var own mat.SymDense
	_ = chol.SolveVecTo(&b, rhs) // positive definite by its priors
	_ = chol.InverseTo(&own)
	var by, back, all mat.Dense // of the bias by all else; what all else is off by in it
	by.Mul(cross, &own)
	_ = s.chol.SolveTo(&back, &by)
	all.Mul(by.T(), &back)
	for c := range n {
		variance = append(variance, own.At(c, c)+all.At(c, c))
	}
	return b.RawVector().Data, variance, true
}

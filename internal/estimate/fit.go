package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// residuals judges each run by its distance from the fit, sets its weight, and returns the mean square distance per
// degree of freedom.
func (s *system) residuals(d *dayData, x *mat.VecDense, chol *mat.Cholesky, weights []float64) float64 {
	own, taken := s.ownBias(d, x)
	taken += s.takenByUses(chol)
	var sum, dof float64
	for i, l := range s.rows {
		if len(l.y) == 0 {
			continue
		}
		chi := 0.0
		for r, y := range l.y {
			f := y - s.predict(l.x[r], x, own[d.obs[i].set.key])
			chi += f * f
		}
		n := float64(len(l.y))
		weights[i] = 1
		if chi > 6*n {
			weights[i] = 6 * n / chi
		}
		sum += min(chi, 6*n)
		dof += n
	}
	dof -= float64(s.n.parts+2) + taken
	d.misfit, d.freedom = sum, dof
	if dof < 3 {
		return math.NaN()
	}
	return sum / dof
}

// predict returns what one whitened row should read, with a gate set's own bias b, nil for none.
func (s *system) predict(row []float64, x *mat.VecDense, b []float64) float64 {
	f := 0.0
	for j, v := range row {
		f += v * x.AtVec(j)
	}
	for c, v := range b {
		f += v * row[s.e.cols.gain0+c]
	}
	return f
}

// ownBias returns the error of each gate set's bias that is most likely, given all else, and how many degrees of freedom
// these errors take.
func (s *system) ownBias(d *dayData, x *mat.VecDense) (bias map[string][]float64, taken float64) {
	n := s.n.channels
	out := map[string][]float64{}
	normal, rhs, sets := map[string]*mat.SymDense{}, map[string]*mat.VecDense{}, map[string]*gateSet{}
	for i, l := range s.rows {
		key := d.obs[i].set.key
		if normal[key] == nil {
			sets[key] = d.obs[i].set
			normal[key], rhs[key] = mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
			for c, v := range s.setVariance(d.obs[i].set) {
				normal[key].SetSym(c, c, 1/math.Max(v, 1e-12))
			}
		}
		for r, y := range l.y {
			g := mat.NewVecDense(n, l.x[r][s.e.cols.gain0:s.e.cols.gain0+n])
			normal[key].SymRankOne(normal[key], 1, g)
			rhs[key].AddScaledVec(rhs[key], y-s.predict(l.x[r], x, nil), g)
		}
	}
	for _, key := range sortedKeys(normal) {
		var chol mat.Cholesky
		var b mat.VecDense
		var inv mat.SymDense
		if !chol.Factorize(normal[key]) {
			continue
		}
		_ = chol.SolveVecTo(&b, rhs[key]) // positive definite by its priors
		_ = chol.InverseTo(&inv)
		out[key] = b.RawVector().Data
		for c, v := range s.setVariance(sets[key]) {
			taken += 1 - inv.At(c, c)/math.Max(v, 1e-12)
		}
	}
	return out, taken
}

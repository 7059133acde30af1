package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
)

// eliminate integrates the nuisances out and leaves the information about the changes, as absolute values, for a day
// among many and, if it is one of the last few, for such a day.
func (s *system) eliminate(d *dayData, x0 []float64) bool {
	info, ok := s.reduce(x0, 0)
	if !ok {
		return false // what it said before holds on
	}
	var late [lateDays]detect.Information
	for n := range late {
		if s.e.isOld(d) {
			break
		}
		if late[n], ok = s.reduce(x0, n+1); !ok {
			return false
		}
	}
	d.info, d.late, d.own = info, late, s.ownVariance(x0)
	return true
}

// reduce integrates the nuisances of a day out, which is one of the last n.
func (s *system) reduce(x0 []float64, n int) (detect.Information, bool) {
	p := s.e.cols.changes
	sd := append(s.nuisancePriors(n), s.e.hoodDays.all()...)
	m := len(sd)
	column := func(i int) int { // of a nuisance
		if i < s.n.size() {
			return p + i
		}
		return s.e.cols.block0 + i - s.n.size() // how a hood stands today shows as a loss of its drop would
	}
	nn := mat.NewSymDense(m, nil)
	cross := mat.NewDense(m, p, nil)
	rn := mat.NewVecDense(m, nil)
	for i := range m {
		for j := i; j < m; j++ {
			nn.SetSym(i, j, s.normal.At(column(i), column(j)))
		}
		nn.SetSym(i, i, nn.At(i, i)+1/(sd[i]*sd[i]))
		for j := range p {
			cross.Set(i, j, s.normal.At(column(i), j))
		}
		rn.SetVec(i, s.rhs.AtVec(column(i)))
	}
	var chol mat.Cholesky
	if !chol.Factorize(nn) {
		return detect.Information{}, false
	}
	var sol mat.Dense
	var solR mat.VecDense
	_ = chol.SolveTo(&sol, cross) // the priors keep nn positive definite: only its condition can be poor
	_ = chol.SolveVecTo(&solR, rn)
	var down mat.Dense
	down.Mul(cross.T(), &sol)
	info := detect.NewInformation(p)
	for i := range p {
		for j := i; j < p; j++ {
			info.Lambda.SetSym(i, j, s.normal.At(i, j)-(down.At(i, j)+down.At(j, i))/2)
		}
		info.Eta.SetVec(i, s.rhs.AtVec(i))
	}
	var downR, base mat.VecDense
	downR.MulVec(cross.T(), &solR)
	info.Eta.SubVec(info.Eta, &downR)
	base.MulVec(info.Lambda, mat.NewVecDense(p, x0))
	info.Eta.AddVec(info.Eta, &base)
	return info, true
}

// solve returns all unknowns, changes about x0 and nuisances, with priors of the given standard deviations on the
// changes, and the factor of their information. The change of a drop's loss is that on this day, with how its hood stands
// today in it.
func (s *system) solve(changes []float64) (*mat.VecDense, *mat.Cholesky) {
	size := s.rhs.Len()
	a := mat.NewSymDense(size, nil)
	a.CopySym(s.normal)
	priors := append(append([]float64(nil), changes...), s.nuisancePriors(0)...)
	for m, sd := range s.e.hoodDays.all() {
		priors[s.e.cols.block0+m] = math.Hypot(priors[s.e.cols.block0+m], sd)
	}
	for i, sd := range priors {
		a.SetSym(i, i, a.At(i, i)+1/(sd*sd))
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return nil, nil
	}
	x := mat.NewVecDense(size, nil)
	_ = chol.SolveVecTo(x, s.rhs) // positive definite by its priors
	return x, &chol
}

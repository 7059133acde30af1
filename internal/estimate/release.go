package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// group is what the runs of one gate set say of the error of that set's bias, which all of them share: its columns are
// those of the sensors' scales.
type group struct {
	cross *mat.Dense // channels × unknowns
	rhs   []float64  // by channel
	any   bool
}

// add puts one observation's rows into the day's normal equations.
func (s *system) add(g *group, l *linear, weight float64) {
	g.any = true
	c0 := s.e.cols.gain0
	for i, y := range l.y {
		x := mat.NewVecDense(len(l.x[i]), l.x[i])
		s.normal.SymRankOne(s.normal, weight, x)
		s.rhs.AddScaledVec(s.rhs, weight*y, x)
		for c := range g.rhs {
			k := weight * l.x[i][c0+c]
			floats.AddScaled(g.cross.RawRowView(c), k, l.x[i])
			g.rhs[c] += k * y
		}
	}
}

// release integrates out the error of a gate set's bias.
func (s *system) release(g *group, variance []float64) {
	if !g.any {
		return
	}
	n, c0 := s.n.channels, s.e.cols.gain0
	small := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			small.SetSym(i, j, g.cross.At(i, c0+j))
		}
		small.SetSym(i, i, small.At(i, i)+1/math.Max(variance[i], 1e-12))
	}
	var chol mat.Cholesky
	if !chol.Factorize(small) {
		return
	}
	var low mat.TriDense
	chol.LTo(&low)
	for i := range n { // what L⁻¹ makes of cross and rhs is taken off as squares
		row := g.cross.RawRowView(i)
		for k := range i {
			floats.AddScaled(row, -low.At(i, k), g.cross.RawRowView(k))
			g.rhs[i] -= low.At(i, k) * g.rhs[k]
		}
		floats.Scale(1/low.At(i, i), row)
		g.rhs[i] /= low.At(i, i)
		x := mat.NewVecDense(len(row), row)
		s.normal.SymRankOne(s.normal, -1, x)
		s.rhs.AddScaledVec(s.rhs, -g.rhs[i], x)
	}
}

// releaseBase is release for the gate set with every gate shut, and notes what it took.
func (s *system) releaseBase(g *group, variance []float64) {
	size := s.normal.SymmetricDim()
	taken, left := mat.NewSymDense(size, nil), mat.NewSymDense(size, nil)
	taken.CopySym(s.normal)
	s.release(g, variance)
	left.ScaleSym(-1, s.normal)
	taken.AddSym(taken, left)
	if s.base != nil { // as where several sets of ports shut every gate
		taken.AddSym(taken, s.base)
	}
	s.base = taken
}

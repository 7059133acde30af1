package bound

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ways is a change with how otherwise it may show, in principal directions D, which are at right angles: the covariance of
// what a size x shows is 1 + x²·D·Dᵀ, and D·Dᵀ has the eigenvalues λ.
type ways struct {
	aa     float64    // a·a
	p      []float64  // D·a
	lambda []float64  // D·D
	turn   *mat.Dense // from the ways as they were drawn to D, by column
}

func newWays(s *Space, change int) *ways {
	a, built := s.a[change], s.built[change]
	w := &ways{aa: dot(a, a)}
	n := len(built)
	if n == 0 {
		return w
	}
	gram := mat.NewSymDense(n, nil)
	raw := make([]float64, n)
	for i, x := range built {
		raw[i] = dot(x, a)
		for j := i; j < n; j++ {
			gram.SetSym(i, j, dot(x, built[j]))
		}
	}
	var eigen mat.EigenSym
	w.turn = mat.NewDense(n, n, nil)
	if !eigen.Factorize(gram, true) {
		panic("the eigenvalues of a symmetric matrix were not found") // only of one that is no number
	}
	eigen.VectorsTo(w.turn)
	w.p = w.turned(raw)
	for _, l := range eigen.Values(nil) {
		w.lambda = append(w.lambda, max(l, 0))
	}
	return w
}

// turned takes the projections on the ways as drawn to those on D.
func (w *ways) turned(q []float64) []float64 {
	var out mat.VecDense
	out.MulVec(w.turn.T(), mat.NewVecDense(len(q), q))
	return out.RawVector().Data
}

// information returns aᵀ·C⁻¹·a with C = 1 + size²·D·Dᵀ.
func (w *ways) information(size float64) float64 {
	out := w.aa
	for k, p := range w.p {
		out -= sq(size*p) / (1 + size*size*w.lambda[k])
	}
	return out
}

// power is Space.Power. The contrast is w ∝ C⁻¹·a, of length 1.
func (w *ways) power(size, threshold, scale float64) float64 {
	if w.aa == 0 {
		return distuv.UnitNormal.CDF(-threshold)
	}
	length, spread := w.aa, 0.0 // of C⁻¹·a squared; of D along it
	for k, p := range w.p {
		m := size * size / (1 + size*size*w.lambda[k])
		length += sq(p) * m * (w.lambda[k]*m - 2)
		spread += sq(p * (1 - m*w.lambda[k]))
	}
	mean := w.information(size) / math.Sqrt(length)
	spread = spread/length + sq(scale*mean)
	return distuv.UnitNormal.CDF((size*mean - threshold) / math.Sqrt(1+size*size*spread))
}

package bound

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// errInfinite: an information matrix is not positive definite, so that something is known without any error.
var errInfinite = errors.New("the information is not finite: some noise figure is 0")

// eliminate returns the information on the first n unknowns, the others integrated out: A − C·B⁻¹·Cᵀ.
func eliminate(a *mat.SymDense, n int) (*mat.SymDense, error) {
	m := a.SymmetricDim() - n
	if m == 0 {
		return a, nil
	}
	b := mat.NewSymDense(m, nil)
	cross := mat.NewDense(m, n, nil)
	for i := range m {
		for j := i; j < m; j++ {
			b.SetSym(i, j, a.At(n+i, n+j))
		}
		for j := range n {
			cross.Set(i, j, a.At(n+i, j))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(b) {
		return nil, errInfinite
	}
	out := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, a.At(i, j))
		}
	}
	return out, takeOff(out, &chol, cross)
}

// takeOff subtracts xᵀ·B⁻¹·x from a matrix, with B's factor.
func takeOff(a *mat.SymDense, chol *mat.Cholesky, x *mat.Dense) error {
	var low mat.TriDense
	chol.LTo(&low)
	var half mat.Dense // L⁻¹·x
	half.CloneFrom(x)
	if err := solveLower(&low, &half); err != nil {
		return err
	}
	var down mat.SymDense
	down.SymOuterK(1, half.T())
	down.ScaleSym(-1, &down)
	a.AddSym(a, &down)
	return nil
}

// solveLower replaces x by L⁻¹·x.
func solveLower(low *mat.TriDense, x *mat.Dense) error {
	var out mat.Dense
	if err := low.SolveTo(&out, false, x); err != nil {
		var c mat.Condition
		if !errors.As(err, &c) || math.IsInf(float64(c), 1) {
			return errInfinite
		}
	}
	x.CloneFrom(&out)
	return nil
}

// rankEnd is the share of the largest pivot below which what is left of a matrix is rounding.
const rankEnd = 1e-11

// halves returns L (n×r) with A ≈ L·Lᵀ for a positive semidefinite matrix, by Cholesky's method with the largest pivot
// first (Higham, Accuracy and Stability of Numerical Algorithms, 2002, section 10.3).
func halves(a *mat.SymDense) [][]float64 {
	n := a.SymmetricDim()
	left := make([]float64, n) // the diagonal
	for i := range n {
		left[i] = a.At(i, i)
	}
	end := 0.0
	low := make([][]float64, n)
	for r := range n {
		p := 0
		for i := range left {
			if left[i] > left[p] {
				p = i
			}
		}
		if r == 0 {
			end = rankEnd * left[p]
		}
		if !(left[p] > end) {
			break
		}
		pivot := math.Sqrt(left[p])
		mine := low[p]
		for i := range n {
			x := a.At(i, p) - dot(low[i], mine)
			if i != p {
				low[i] = append(low[i], x/pivot)
				left[i] -= sq(x / pivot)
			}
		}
		low[p] = append(low[p], pivot)
		left[p] = math.Inf(-1)
	}
	return low
}

// dot is a·b, over the length of a.
func dot(a, b []float64) float64 { return floats.Dot(a, b[:len(a)]) }

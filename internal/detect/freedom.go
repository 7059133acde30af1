package detect

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Marginal returns the most likely value of one parameter and its variance, from information Λ and vector w = Λ·p̂ on
// many, while the free ones may wander with the given standard deviations and all others stand still. It returns false
// where nothing is said of the parameter.
func Marginal(info *mat.SymDense, w *mat.VecDense, param int, free []int, prior []float64) (value, variance float64, ok bool) {
	return partOf(info, w, free).others(param, free, prior).marginal(param)
}

// Marginals is Marginal for many parameters, none of which may wander, at less cost.
func Marginals(info *mat.SymDense, w *mat.VecDense, free []int, prior []float64) func(param int) (value, variance float64, ok bool) {
	return newFreedom(partOf(info, w, free), free, prior).marginal
}

// others is the freedom of all that is free but one parameter.
func (p *part) others(param int, free []int, prior []float64) *freedom {
	var others []int
	var sd []float64
	for k, f := range free {
		if f != param {
			others = append(others, f)
			sd = append(sd, prior[k])
		}
	}
	return newFreedom(p, others, sd)
}

// freedom is the information on all parameters with some of them free to wander, prepared for integrating these out.
type freedom struct {
	of   *part
	free []int
	low  []float64 // L of the free parameters' information and prior, L·Lᵀ, by rows; nil: none is free
	rhs  []float64 // L⁻¹·w of the free parameters
	x    []float64 // room for one solution
	bad  bool

	// evidence is log ∫ exp(wᵀf - fᵀΛf/2) q(f) df over the free parameters, with q their prior: of the record with them free,
	// against that of nothing changed. What further changes are scored by is relative to it.
	evidence float64
}

// newFreedom prepares what is free with the given standard deviations; one of 0 stands still.
func newFreedom(of *part, free []int, prior []float64) *freedom {
	f := &freedom{of: of}
	var sd []float64
	for k, p := range free {
		if prior[k] > 0 {
			f.free = append(f.free, p)
			sd = append(sd, prior[k])
		}
	}
	m := len(f.free)
	if m == 0 {
		return f
	}
	f.low, f.rhs, f.x = make([]float64, m*m), make([]float64, m), make([]float64, m)
	for r, p := range f.free {
		row := f.low[r*m : r*m+r+1]
		for c := range row {
			row[c] = of.rows[p][f.free[c]]
		}
		row[r] += 1 / (sd[r] * sd[r])
		f.rhs[r] = of.w[p]
	}
	if f.bad = !factorize(f.low, m); !f.bad {
		f.solve(f.rhs)
		for r, x := range f.rhs {
			f.evidence += x*x/2 - math.Log(f.low[r*m+r]*sd[r])
		}
	}
	return f
}

// factorize turns the lower half of a symmetric m×m matrix, by rows, into L with L·Lᵀ the matrix; false where it is not
// positive definite. It is for a few dozen unknowns, many times over, where a library's factor spends most of its time on
// memory and on the condition.
func factorize(a []float64, m int) bool {
	for r := range m {
		row := a[r*m : r*m+r+1]
		for c := range row {
			other, sum := a[c*m:c*m+c+1], row[c]
			for k := range c {
				sum -= row[k] * other[k]
			}
			switch {
			case c < r:
				row[c] = sum / other[c]
			case !(sum > 0):
				return false
			default:
				row[c] = math.Sqrt(sum)
			}
		}
	}
	return true
}

// solve replaces x by L⁻¹·x.
func (f *freedom) solve(x []float64) {
	for r := range x {
		row, sum := f.low[r*len(x):r*len(x)+r+1], x[r]
		for c := range r {
			sum -= row[c] * x[c]
		}
		x[r] = sum / row[r]
	}
}

// marginal returns one parameter's value and variance, the free ones integrated out.
func (f *freedom) marginal(param int) (value, variance float64, ok bool) {
	if f.bad {
		return 0, 0, false
	}
	own := f.of.diag[param]
	i, v := own, f.of.w[param]
	for r, p := range f.free {
		f.x[r] = f.of.rows[p][param]
	}
	f.solve(f.x)
	for r, x := range f.x {
		i -= x * x
		v -= x * f.rhs[r]
	}
	// what is left of a difference of nearly equal numbers is rounding
	if !(i > 1e-9*own) || math.IsNaN(v) {
		return 0, 0, false
	}
	return v / i, 1 / i, true
}

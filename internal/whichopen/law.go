package whichopen

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// tailFreedom is how heavy the tails of a candidate's density are: Student's law with so many degrees of freedom, whose
// covariance is the stated one. A covariance is never known exactly.
const tailFreedom = 30.0

// outlierWidth is over how many natural logarithms the class "none of these" spreads each reading evenly: a factor of
// twenty. Its density is 1/outlierWidth a channel.
const outlierWidth = 3.0

// way is the shared state before a run, after one of the things that may have happened.
type way struct {
	chance float64
	mean   []float64
	cov    *mat.Dense
}

// ways lists what may have happened to the shared state since the last run, nothing first.
func (t *Tracker) ways(r *Run) []way {
	k := len(t.Mean)
	none := Jump{Chance: 1, Shift: make([]float64, k), Var: make([]float64, k)}
	for _, j := range r.Jumps {
		none.Chance -= j.Chance
	}
	var out []way
	for _, j := range append([]Jump{none}, r.Jumps...) {
		w := way{chance: j.Chance, mean: make([]float64, k), cov: mat.NewDense(k, k, nil)}
		for a := range k {
			w.mean[a] = t.Mean[a] + j.Shift[a]
			copy(w.cov.RawRowView(a), t.Cov[a])
			w.cov.Set(a, a, w.cov.At(a, a)+r.drift(a)+j.Var[a])
		}
		out = append(out, w)
	}
	return out
}

// innovation is one run seen under a candidate and a way: with the state x ~ N(m, P), readings y = μ + H·x + e and
// e ~ N(0, S), what is new is v = y − μ − H·m, of the covariance C = H·P·Hᵀ + S.
type innovation struct {
	v    *mat.VecDense
	ph   mat.Dense // P·Hᵀ
	hph  mat.Dense
	own  *mat.SymDense // S
	chol mat.Cholesky  // of C
	chi  float64       // vᵀ·C⁻¹·v
	ok   bool
}

func innovate(s *Set, w *way, r *Run, have []int) innovation {
	n, k := len(have), len(w.mean)
	h := mat.NewDense(n, k, nil)
	out := innovation{v: mat.NewVecDense(n, nil), own: symmetric(s.Cov, have)}
	for i, c := range have {
		copy(h.RawRowView(i), s.Slope[c])
		y := r.Reading[c] - s.Mean[c]
		for a, x := range s.Slope[c] {
			y -= x * w.mean[a]
		}
		out.v.SetVec(i, y)
		out.own.SetSym(i, i, out.own.At(i, i)+r.Noise[c])
	}
	out.ph.Mul(w.cov, h.T())
	out.hph.Mul(h, &out.ph)
	if out.ok = out.factorize(1); !out.ok {
		return out
	}
	var x mat.VecDense
	_ = out.chol.SolveVecTo(&x, out.v) // positive definite: only its condition can be poor
	out.chi = mat.Dot(out.v, &x)
	return out
}

// factorize factorises C with S taken several times.
func (o *innovation) factorize(times float64) bool {
	c := mat.NewSymDense(o.own.SymmetricDim(), nil)
	c.ScaleSym(times, o.own)
	addHalf(c, &o.hph)
	return o.chol.Factorize(c)
}

// logDensity is that of the readings.
func (o *innovation) logDensity() float64 {
	if !o.ok {
		return math.Inf(-1)
	}
	return student(o.chi, o.v.Len(), o.chol.LogDet())
}

// learn returns the shared state after the run:
//
//	m' = m + P·Hᵀ·C⁻¹·v,   P' = P − P·Hᵀ·C⁻¹·H·P
//
// Readings that lie far out count for less: under Student's law S is multiplied by what they themselves say of it.
func (o *innovation) learn(w *way) (mean []float64, cov *mat.SymDense) {
	n, k := o.v.Len(), len(w.mean)
	if f := (tailFreedom - 2 + o.chi) / (tailFreedom - 2 + float64(n)); f > 1 {
		o.factorize(f) // a larger S is no less positive
	}
	var x, step mat.VecDense
	_ = o.chol.SolveVecTo(&x, o.v)
	step.MulVec(&o.ph, &x)
	mean = make([]float64, k)
	for a := range k {
		mean[a] = w.mean[a] + step.AtVec(a)
	}
	var gain, down mat.Dense
	_ = o.chol.SolveTo(&gain, o.ph.T())
	down.Mul(&o.ph, &gain)
	down.Sub(w.cov, &down)
	cov = mat.NewSymDense(k, nil)
	addHalf(cov, &down)
	return mean, cov
}

// drift returns what has been added to the variance of a part of the state since the last run.
func (r *Run) drift(state int) float64 {
	if state < len(r.Drift) {
		return r.Drift[state]
	}
	return 0
}

// addHalf adds a square matrix that is symmetric but for rounding.
func addHalf(to *mat.SymDense, m *mat.Dense) {
	n := to.SymmetricDim()
	for i := range n {
		for j := i; j < n; j++ {
			to.SetSym(i, j, to.At(i, j)+(m.At(i, j)+m.At(j, i))/2)
		}
	}
}

// student returns the log density of Student's law in n dimensions with tailFreedom degrees of freedom and a covariance of
// the given log determinant, at the squared distance chi in units of that covariance (Kotz and Nadarajah, Multivariate t
// Distributions and Their Applications, 2004, eq. 1.1, from memory; its scale matrix is the covariance times (ν−2)/ν).
//
//	Γ((ν+n)/2) / (Γ(ν/2)·((ν−2)π)^(n/2)·|C|^½) · (1 + χ²/(ν−2))^(−(ν+n)/2)
func student(chi float64, n int, logDet float64) float64 {
	nu, d := tailFreedom, float64(n)
	a, _ := math.Lgamma((nu + d) / 2)
	b, _ := math.Lgamma(nu / 2)
	return a - b - d/2*math.Log((nu-2)*math.Pi) - logDet/2 - (nu+d)/2*math.Log1p(chi/(nu-2))
}

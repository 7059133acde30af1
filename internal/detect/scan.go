package detect

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Information is what one day, or several together, say of p: Λ (n×n, symmetric) and η = Λ·p̂ (n).
type Information struct {
	Lambda *mat.SymDense
	Eta    *mat.VecDense
}

// NewInformation returns the information of nothing.
func NewInformation(n int) Information {
	return Information{Lambda: mat.NewSymDense(n, nil), Eta: mat.NewVecDense(n, nil)}
}

// Add adds a multiple of other.
func (i Information) Add(k float64, other Information) {
	n := i.Eta.Len()
	a, b := i.Lambda.RawSymmetric(), other.Lambda.RawSymmetric()
	for r := range n {
		row, from := a.Data[r*a.Stride:], b.Data[r*b.Stride:]
		for c := r; c < n; c++ {
			row[c] += k * from[c]
		}
	}
	i.Eta.AddScaledVec(i.Eta, k, other.Eta)
}

// Clone returns a copy.
func (i Information) Clone() Information {
	out := NewInformation(i.Eta.Len())
	out.Add(1, i)
	return out
}

// Profile says how a change goes on after its onset.
type Profile int

// The profiles.
const (
	Step Profile = iota // at once, and stays
	Ramp                // grows by the same amount each day; the size is the growth a day
)

// at returns the profile's value on the k-th day after the onset, which is day 0.
func (p Profile) at(k int) float64 {
	if p == Step {
		return 1
	}
	return float64(k + 1)
}

// Hypothesis is one parameter that may have changed.
type Hypothesis struct {
	Param  int
	Prior  float64 // standard deviation of its size, before anything is seen
	Growth float64 // standard deviation of its growth a day, as a ramp; 0: whatever reaches Prior by now
	Sign   float64 // +1: only increases, -1: only decreases, 0: either
	Weight float64 // prior weight among its fellows
}

// Score is what the record says of one hypothesis, onset and profile.
type Score struct {
	Hypothesis int
	Onset      int // index of the day
	Profile    Profile
	Size       float64 // most likely size, its prior included
	Variance   float64 // of Size, nuisances free
	Z          float64 // Size over its standard error
	Evidence   float64 // log of the probability of the record against that of no change, the prior of the size included
}

// Scan tries every hypothesis at the given onsets.
type Scan struct {
	Days       []Information
	Before     Information // of the days before Days[0], and of the baseline
	Hypotheses []Hypothesis
	Free       []int     // parameters that may drift a little besides, in every hypothesis
	FreePrior  []float64 // standard deviation of that drift
	Onsets     []int     // indices into Days
	Profiles   []Profile
	Inflation  float64 // variance of the record over what the days claim; 1 if as claimed
}

// Run returns a score for every hypothesis, onset and profile, in that order of nesting from the inside out. It returns
// nil where the record is too poor to be solved.
func (s *Scan) Run() []Score {
	n := s.Before.Eta.Len()
	total := s.Before.Clone()
	for _, d := range s.Days {
		total.Add(1, d)
	}
	var chol mat.Cholesky
	if !chol.Factorize(total.Lambda) {
		return nil
	}
	var all mat.VecDense // (A+B)⁻¹(a+b)
	if err := chol.SolveVecTo(&all, total.Eta); err != nil && isSingular(err) {
		return nil
	}
	onset := map[int]bool{}
	for _, k := range s.Onsets {
		onset[k] = true
	}
	r := newReducer(&chol, &all, s.Free)
	var out []Score
	for _, p := range s.Profiles {
		acc := newAccumulator(n, p)
		for k := len(s.Days) - 1; k >= 0; k-- {
			acc.extend(s.Days[k])
			if onset[k] {
				out = s.score(out, k, p, acc, r)
			}
		}
	}
	return out
}

// isSingular tells an exactly singular system from one that is only badly conditioned.
func isSingular(err error) bool {
	c, ok := err.(mat.Condition)
	return !ok || math.IsInf(float64(c), 1)
}

// accumulator holds Σ uΛ, Σ u²Λ and Σ uη from an onset to the end of the record, while the onset moves back.
type accumulator struct {
	profile Profile
	zero    Information // Σ Λ, Σ η
	one     Information // Σ uΛ, Σ uη
	two     *mat.SymDense
}

func newAccumulator(n int, p Profile) *accumulator {
	return &accumulator{profile: p, zero: NewInformation(n), one: NewInformation(n), two: mat.NewSymDense(n, nil)}
}

// extend moves the onset back to the day before. For a ramp u = 1, 2, 3, … from the onset, so that each day's u rises
// by one: Σ(u+1)²Λ = Σu²Λ + 2ΣuΛ + ΣΛ.
func (a *accumulator) extend(d Information) {
	if a.profile == Ramp {
		a.two.AddSym(a.two, a.one.Lambda)
		a.two.AddSym(a.two, a.one.Lambda)
		a.two.AddSym(a.two, a.zero.Lambda)
		a.one.Add(1, a.zero)
	}
	a.zero.Add(1, d)
	a.one.Add(1, d)
	a.two.AddSym(a.two, d.Lambda)
}

// score scores all hypotheses at one onset.
func (s *Scan) score(out []Score, k int, p Profile, a *accumulator, r *reducer) []Score {
	inflation := s.Inflation
	if inflation <= 0 {
		inflation = 1
	}
	r.reduce(a, inflation)
	scale := p.at(len(s.Days) - 1 - k) // the prior of a size is that of the size reached by now
	prior := make([]float64, len(s.FreePrior))
	for i, sd := range s.FreePrior {
		prior[i] = sd / scale
	}
	// most hypotheses leave the same parameters free: these are integrated out once for all of them
	shared := newFreedom(&r.part, s.Free, prior)
	for h, hyp := range s.Hypotheses {
		size, variance, ok := 0.0, 0.0, false
		if slices.Contains(s.Free, hyp.Param) {
			size, variance, ok = r.part.marginal(hyp.Param, s.Free, prior)
		} else {
			size, variance, ok = shared.marginal(hyp.Param)
		}
		if ok {
			sc := judge(hyp, size, variance, hyp.prior(p, scale))
			sc.Hypothesis, sc.Onset, sc.Profile = h, k, p
			out = append(out, sc)
		}
	}
	return out
}

// prior returns the standard deviation of a size in units of the profile, which has come to scale of them by now.
func (h *Hypothesis) prior(p Profile, scale float64) float64 {
	sd := h.Prior / scale
	if p == Ramp && h.Growth > 0 {
		return min(sd, h.Growth)
	}
	return sd
}

// judge scores one hypothesis by what the record alone says of its size, whose prior has the standard deviation sd.
func judge(h Hypothesis, size, variance, sd float64) Score {
	sc := Score{Evidence: evidence(size/variance, 1/variance, sd, h.Sign)}
	// what the record leaves open, the prior closes
	sc.Variance = 1 / (1/variance + 1/(sd*sd))
	sc.Size = size * sc.Variance / variance
	// a size far beyond belief is no sign of the change, however well it would fit
	sc.Z = sc.Size / math.Sqrt(sc.Variance)
	return sc
}

// evidence returns log ∫ exp(v·x − i·x²/2) q(x) dx, with q the normal prior of the size, cut to its sign.
func evidence(v, i, sd, sign float64) float64 {
	prior := 1 / (sd * sd)
	post := i + prior
	z := v / math.Sqrt(post)
	e := math.Log(prior/post) / 2
	if sign == 0 {
		return e + z*z/2
	}
	return e + logHalf(sign*z)
}

// logHalf returns log(2·Φ(z)·exp(z²/2)). Far below zero, where Φ is too small for a float64, it is the asymptotic series
// of Mills' ratio (Abramowitz and Stegun 26.2.12), exact there to 1e-10.
func logHalf(z float64) float64 {
	if z > -20 {
		return z*z/2 + math.Log(2*normal.CDF(z))
	}
	k := 1 / (z * z)
	return math.Log(-math.Sqrt(2/math.Pi)/z) + math.Log1p(-k*(1-3*k*(1-5*k*(1-7*k))))
}

// Evidence returns the log of the probability of what a record says of one size, against that of no change: v·x − i·x²/2
// is its log likelihood, sd the standard deviation of the size beforehand, and sign is as in Hypothesis.
func Evidence(v, i, sd, sign float64) float64 { return evidence(v, i, sd, sign) }

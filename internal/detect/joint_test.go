package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// record is a small random record.
type record struct {
	n    int
	days []Information
	scan Scan
}

// draw returns information of random directions about random values, poor in some.
func draw(rng *rand.Rand, n, rows int) Information {
	out := NewInformation(n)
	for range rows {
		x := mat.NewVecDense(n, nil)
		for j := range n {
			x.SetVec(j, rng.NormFloat64())
		}
		out.Lambda.SymRankOne(out.Lambda, 1, x)
		out.Eta.AddScaledVec(out.Eta, 2*rng.NormFloat64(), x)
	}
	return out
}

// newRecord draws a record of days, each of which says less than all there is to know.
func newRecord(seed uint64, n, days int) *record {
	rng := rand.New(rand.NewPCG(seed, 21))
	r := &record{n: n, scan: Scan{Before: draw(rng, n, n+2), Profiles: []Profile{Step, Ramp}, Inflation: 1}}
	for k := range days {
		r.scan.Days = append(r.scan.Days, draw(rng, n, 1+rng.IntN(n)))
		r.scan.Onsets = append(r.scan.Onsets, k)
	}
	r.days = r.scan.Days
	for p := range n {
		r.scan.Hypotheses = append(r.scan.Hypotheses, Hypothesis{Param: p, Prior: 0.5 + rng.Float64(), Weight: 1})
	}
	return r
}

// joint is a Gaussian belief about many unknowns: exp(-xᵀΛx/2 + ηᵀx).
type joint struct {
	lambda *mat.Dense
	eta    *mat.VecDense
	prior  float64 // log of the normalisation of the priors
}

// learn adds what information says about m·x.
func (j *joint) learn(i Information, m *mat.Dense, weight float64) {
	var a, b mat.Dense
	a.Mul(i.Lambda, m)
	b.Mul(m.T(), &a)
	b.Scale(weight, &b)
	j.lambda.Add(j.lambda, &b)
	var v mat.VecDense
	v.MulVec(m.T(), i.Eta)
	j.eta.AddScaledVec(j.eta, weight, &v)
}

// believe adds a normal prior about one unknown.
func (j *joint) believe(at int, sd float64) {
	j.lambda.Set(at, at, j.lambda.At(at, at)+1/(sd*sd))
	j.prior -= math.Log(sd)
}

// solve returns the posterior mean and covariance, and the log of the integral of the belief over all unknowns, up to
// powers of 2π.
func (j *joint) solve(t require.TestingT) (mean *mat.VecDense, cov *mat.Dense, log float64) {
	cov, mean = new(mat.Dense), new(mat.VecDense)
	require.NoError(t, cov.Inverse(j.lambda))
	mean.MulVec(cov, j.eta)
	det, _ := mat.LogDet(j.lambda)
	return mean, cov, j.prior + mat.Dot(mean, j.eta)/2 - det/2
}

// direct computes a score from the joint distribution of the state before the onset, the change and the drifts, none
// of them eliminated by hand. The evidence is against a record in which nothing changed and nothing drifted, so that it is the
// same null whatever the onset and the profile.
func (r *record) direct(t require.TestingT, h Hypothesis, onset int, p Profile) (size, variance, evidence float64) {
	s := &r.scan
	scale := 1.0
	if p == Ramp {
		scale = float64(len(r.days) - onset)
	}
	var free []int
	for k, f := range s.Free {
		if f != h.Param && s.FreePrior[k] > 0 {
			free = append(free, k)
		}
	}
	build := func(free []int, change bool) *joint {
		total := r.n + len(free)
		if change {
			total++
		}
		j := &joint{lambda: mat.NewDense(total, total, nil), eta: mat.NewVecDense(total, nil)}
		at := func(u float64) *mat.Dense {
			m := mat.NewDense(r.n, total, nil)
			for i := range r.n {
				m.Set(i, i, 1)
			}
			for k, f := range free {
				m.Set(s.Free[f], r.n+k, u)
			}
			if change {
				m.Set(h.Param, total-1, u)
			}
			return m
		}
		j.learn(s.Before, at(0), 1/s.Inflation)
		for k, d := range r.days {
			u := 0.0
			if k >= onset {
				u = 1
				if p == Ramp {
					u = float64(k - onset + 1)
				}
			}
			j.learn(d, at(u), 1/s.Inflation)
		}
		for k, f := range free {
			j.believe(r.n+k, s.FreePrior[f]/scale)
		}
		if change {
			j.believe(total-1, h.Prior/scale)
		}
		return j
	}
	_, _, none := build(nil, false).solve(t)
	mean, cov, one := build(free, true).solve(t)
	last := mean.Len() - 1
	return mean.AtVec(last), cov.At(last, last), one - none
}

// TestScanAgainstTheJointDistribution: each score is what Gaussian elimination of the whole problem gives.
func TestScanAgainstTheJointDistribution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "parameters")
		r := newRecord(rapid.Uint64().Draw(t, "seed"), n, rapid.IntRange(1, 9).Draw(t, "days"))
		r.scan.Inflation = rapid.Float64Range(0.5, 4).Draw(t, "inflation")
		for p := range n {
			if rapid.Bool().Draw(t, "free") {
				r.scan.Free = append(r.scan.Free, p)
				r.scan.FreePrior = append(r.scan.FreePrior, rapid.Float64Range(0.05, 2).Draw(t, "drift"))
			}
		}
		scores := r.scan.Run()
		for _, sc := range scores {
			h := r.scan.Hypotheses[sc.Hypothesis]
			size, variance, evidence := r.direct(t, h, sc.Onset, sc.Profile)
			where := []any{"hypothesis %d, onset %d, profile %d", sc.Hypothesis, sc.Onset, sc.Profile}
			assert.InDelta(t, size, sc.Size, 1e-6*math.Sqrt(variance)+1e-9, where...)
			assert.InEpsilon(t, variance, sc.Variance, 1e-6, where...)
			assert.InDelta(t, evidence, sc.Evidence, 1e-6*(1+math.Abs(evidence)), where...)
			assert.InDelta(t, size/math.Sqrt(variance), sc.Z, 1e-6*(1+math.Abs(sc.Z)), where...)
		}
	})
}

// TestEveryCaseIsTried once, and no other.
func TestEveryCaseIsTried(t *testing.T) {
	r := newRecord(6, 3, 8)
	r.scan.Onsets = []int{2, 5, 7}
	seen := map[Score]bool{}
	for _, s := range r.scan.Run() {
		seen[Score{Hypothesis: s.Hypothesis, Onset: s.Onset, Profile: s.Profile}] = true
	}
	assert.Len(t, seen, 3*3*2)
	for s := range seen {
		assert.Contains(t, r.scan.Onsets, s.Onset)
	}
}

// TestScanLeavesTheRecordAlone: the days are used again tomorrow.
func TestScanLeavesTheRecordAlone(t *testing.T) {
	r, same := newRecord(5, 3, 6), newRecord(5, 3, 6)
	first := r.scan.Run()
	assert.Equal(t, same.scan, r.scan)
	assert.Equal(t, first, r.scan.Run(), "and the same again")
}

// TestARecordThatSaysNothingIsNoScore.
func TestARecordThatSaysNothingIsNoScore(t *testing.T) {
	s := Scan{Before: NewInformation(2), Days: []Information{NewInformation(2)}, Onsets: []int{0},
		Hypotheses: []Hypothesis{{Param: 0, Prior: 1}}, Profiles: []Profile{Step}}
	assert.Nil(t, s.Run(), "singular")

	s.Before.Lambda.SetSym(0, 0, 1)
	s.Before.Lambda.SetSym(1, 1, 1)
	assert.Empty(t, s.Run(), "a day without information tells of no change")
}

// TestRampSumsAgainstDirectOnes.
func TestRampSumsAgainstDirectOnes(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 5))
	var days []Information
	for range 12 {
		days = append(days, draw(rng, 3, 4))
	}
	for _, p := range []Profile{Step, Ramp} {
		acc := newAccumulator(3, p)
		for k := len(days) - 1; k >= 0; k-- {
			acc.extend(days[k])
			zero, one, two := NewInformation(3), NewInformation(3), NewInformation(3)
			for i := k; i < len(days); i++ {
				u := 1.0
				if p == Ramp {
					u = float64(i - k + 1)
				}
				zero.Add(1, days[i])
				one.Add(u, days[i])
				two.Add(u*u, days[i])
			}
			assert.True(t, mat.EqualApprox(zero.Lambda, acc.zero.Lambda, 1e-10), "Σ Λ, profile %d, onset %d", p, k)
			assert.True(t, mat.EqualApprox(one.Lambda, acc.one.Lambda, 1e-10), "Σ uΛ, profile %d, onset %d", p, k)
			assert.True(t, mat.EqualApprox(two.Lambda, acc.two, 1e-10), "Σ u²Λ, profile %d, onset %d", p, k)
			assert.True(t, mat.EqualApprox(one.Eta, acc.one.Eta, 1e-10), "Σ uη, profile %d, onset %d", p, k)
		}
	}
}

// TestMarginalAgainstTheInverse: the free ones integrated out by the inverse of the whole.
func TestMarginalAgainstTheInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "parameters")
		i := draw(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 4)), n, n+3)
		param := rapid.IntRange(0, n-1).Draw(t, "param")
		keep := []int{param} // unknowns: the parameter, then the free ones
		var free []int
		var prior []float64
		for p := range n {
			if !rapid.Bool().Draw(t, "free") {
				continue
			}
			free = append(free, p)
			prior = append(prior, rapid.SampledFrom([]float64{0, 0.1, 1, 10}).Draw(t, "drift"))
			if p != param && prior[len(prior)-1] > 0 {
				keep = append(keep, p)
			}
		}
		m := len(keep)
		lambda, eta := mat.NewDense(m, m, nil), mat.NewVecDense(m, nil)
		for a, p := range keep {
			eta.SetVec(a, i.Eta.AtVec(p))
			for b, q := range keep {
				lambda.Set(a, b, i.Lambda.At(p, q))
			}
			for k, f := range free {
				if f == p && a > 0 {
					lambda.Set(a, a, lambda.At(a, a)+1/(prior[k]*prior[k]))
				}
			}
		}
		j := joint{lambda: lambda, eta: eta}
		mean, cov, _ := j.solve(t)
		value, variance, ok := Marginal(i.Lambda, i.Eta, param, free, prior)
		require.True(t, ok)
		assert.InEpsilon(t, cov.At(0, 0), variance, 1e-7)
		assert.InDelta(t, mean.AtVec(0), value, 1e-7*(1+math.Sqrt(variance)))
	})
}

// TestWhatCannotBeToldApartIsNotTold: two parameters that all readings hold in the same proportion.
func TestWhatCannotBeToldApartIsNotTold(t *testing.T) {
	i := NewInformation(3)
	x := mat.NewVecDense(3, []float64{1, 2, 0})
	i.Lambda.SymRankOne(i.Lambda, 400, x)
	_, variance, ok := Marginal(i.Lambda, i.Eta, 0, []int{1}, []float64{0.5})
	require.True(t, ok)
	assert.InEpsilon(t, 1.0/400+4*0.25, variance, 1e-9, "the other's drift, seen through this one")
	_, _, ok = Marginal(i.Lambda, i.Eta, 0, []int{1}, []float64{1e8})
	assert.False(t, ok, "where the other is free, nothing is left")
	_, _, ok = Marginal(i.Lambda, i.Eta, 2, nil, nil)
	assert.False(t, ok, "nothing was ever said of it")
}

// TestAStepIsFound where it was made, as what it was.
func TestAStepIsFound(t *testing.T) {
	const n, days, onset = 4, 30, 17
	rng := rand.New(rand.NewPCG(44, 1))
	truth := mat.NewVecDense(n, []float64{0.3, -1, 0.2, 0.5})
	s := Scan{Before: NewInformation(n), Profiles: []Profile{Step, Ramp}, Inflation: 1}
	see := func(into Information, rows int) {
		for range rows {
			x := mat.NewVecDense(n, nil)
			for j := range n {
				x.SetVec(j, rng.NormFloat64())
			}
			into.Lambda.SymRankOne(into.Lambda, 1, x)
			into.Eta.AddScaledVec(into.Eta, mat.Dot(x, truth)+rng.NormFloat64(), x)
		}
	}
	see(s.Before, 60)
	for k := range days {
		if k == onset {
			truth.SetVec(2, truth.AtVec(2)+2)
		}
		s.Days = append(s.Days, NewInformation(n))
		see(s.Days[k], 5)
		s.Onsets = append(s.Onsets, k)
	}
	for p := range n {
		s.Hypotheses = append(s.Hypotheses, Hypothesis{Param: p, Prior: 3, Weight: 1})
	}
	var best Score
	for _, sc := range s.Run() {
		if sc.Evidence > best.Evidence {
			best = sc
		}
	}
	assert.Equal(t, 2, best.Hypothesis)
	assert.Equal(t, Step, best.Profile)
	assert.InDelta(t, onset, best.Onset, 1)
	assert.InDelta(t, 2, best.Size, 3*math.Sqrt(best.Variance))
	assert.Greater(t, best.Z, 8.0)
}

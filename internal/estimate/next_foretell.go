package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/nexttest"
	"ductward/internal/steady"
)

// channelsNow lists the taps that are read and trusted, by their number among the columns. The fan's meters tell no place.
func (p *predictor) channelsNow() []int {
	var out []int
	for c, ch := range p.e.cols.channels {
		if p.rate[c] > 0 && !p.e.cols.meters[c].fan && !p.e.distrusted[ch] && !p.e.refused[ch] {
			out = append(out, c)
		}
	}
	return out
}

// test foretells a run of a set of gates: relative to what is expected of each channel, what each suspect adds.
func (p *predictor) test(g *gateSet, otherwise spreader) (nexttest.Test, bool) {
	v, err := p.e.nextView(g)
	chs := p.channelsNow()
	if err != nil || len(chs) == 0 {
		return nexttest.Test{}, false
	}
	expect := p.expect(g, v)
	own, hood, shared := p.noise(g, v, chs, expect)
	rate := p.rate
	h := p.past[g.key]
	if h != nil {
		rate = h.rate
	}
	set := mat.NewSymDense(len(chs), nil) // what the next run of these gates has in common with its last
	if h != nil && h.hunted {
		set.AddSym(hood, shared) // no hood has been touched since, and the day's errors are the same
		shared.Zero()
	} else {
		own.AddSym(own, hood)
	}
	out := nexttest.Test{Fixed: mat.NewSymDense(len(chs), nil)}
	out.Fixed.AddSym(own, shared)
	inflation := p.e.scatter.inflation()
	for _, c := range chs {
		out.Turbulence = append(out.Turbulence, inflation*rate[c]/(expect[c]*expect[c]))
	}
	for _, col := range p.cols {
		s := p.shape(g, v, chs, col)
		doubt := p.doubt(g, chs, col, s, otherwise)
		doubt.AddSym(doubt, set)
		mean, cov := told(s, p.c.sizes[col], doubt, h.scatter(own, shared, out.Turbulence))
		out.Mean, out.Own = append(out.Mean, mean), append(out.Own, cov)
	}
	return out, true
}

// expect returns what each channel should read, in Pa as a size.
func (p *predictor) expect(g *gateSet, v *view) []float64 {
	bias := p.e.biasOf(g.key)
	out := make([]float64, len(v.pred))
	for c := range out {
		out[c] = max(math.Abs(v.pred[c]*(1+bias[c])), tinyPressure)
	}
	return out
}

// shape returns, by channel, what one unit of a suspect adds, relative to what is expected.
func (p *predictor) shape(g *gateSet, v *view, chs []int, col int) []float64 {
	bias := p.e.biasOf(g.key)
	out := make([]float64, len(chs))
	for i, c := range chs {
		out[i] = v.jac[c][col]
		if g.kind == steady.Closed && p.e.cols.isLeak(col) {
			out[i] *= (1 + p.e.cal.fresh[c]) / (1 + bias[c]) // as in equations
		}
	}
	return out
}

// noise returns the covariance of one run's own errors, turbulence left out, of how the hoods stand, and of the errors that
// all runs of its day share.
func (p *predictor) noise(g *gateSet, v *view, chs []int, expect []float64) (own, hood, shared *mat.SymDense) {
	e, n := p.e, len(chs)
	own, hood, shared = mat.NewSymDense(n, nil), mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	along := func(to *mat.SymDense, col int, sd float64) {
		x := mat.NewVecDense(n, nil)
		for i, c := range chs {
			x.SetVec(i, sd*v.jac[c][col])
		}
		to.SymRankOne(to, 1, x)
	}
	for _, col := range v.machines {
		along(hood, col, e.hoods.sd(col-e.cols.block0))
		along(shared, col, e.hoodDays.sd(col-e.cols.block0))
	}
	along(own, e.cols.fan, speedJitter)
	for i, c := range chs {
		own.SetSym(i, i, own.At(i, i)+modelFloor*modelFloor)
		shared.SetSym(i, i, shared.At(i, i)+math.Pow(e.zeroUsual(e.cols.channels[c])/expect[c], 2))
	}
	day := mat.NewDense(n, 3+len(e.cols.channels), nil) // in the order of doubtOf
	for i, c := range chs {
		day.SetRow(i, append([]float64{v.jac[c][e.cols.filter], v.jac[c][e.cols.density], v.jac[c][e.cols.fan]}, v.jac[c][e.cols.gain0:e.cols.changes]...))
	}
	var half, all mat.Dense
	half.Mul(day, p.day.doubt)
	all.Mul(&half, day.T())
	addHalves(shared, &all, 1)
	inflation := e.scatter.inflation()
	for _, m := range []*mat.SymDense{own, hood, shared} {
		m.ScaleSym(inflation, m)
	}
	return own, hood, shared
}

// spreader tells, by channel, how otherwise one unit of a suspect shows in ducts that are built otherwise; nil: not known.
type spreader func(g *gateSet, col int) [][]float64

// doubt returns how well the drawing and the baseline foretell a suspect in a set of gates: the error of the set's own
// ratio, and how otherwise the suspect may show in ducts that are not as drawn.
func (p *predictor) doubt(g *gateSet, chs []int, col int, shape []float64, otherwise spreader) *mat.SymDense {
	size := p.c.sizes[col].V
	out := mat.NewSymDense(len(chs), nil)
	variance := p.e.biasVariance(g)
	spread := otherwise(g, col)
	for i, c := range chs {
		v := math.Max(variance[c], 1e-12)
		if g.kind != steady.Closed { // all zones leak alike there
			v += math.Pow(p.e.cal.lawOf(c)*size*shape[i], 2)
		}
		out.SetSym(i, i, v)
		for j, d := range chs[:i+1] {
			if spread == nil {
				continue
			}
			sum := 0.0
			for m := range spread[c] {
				sum += spread[c][m] * spread[d][m]
			}
			out.SetSym(i, j, out.At(i, j)+size*size*sum)
		}
	}
	return out
}

// scatter returns the covariance of the mean of all runs of a set of gates since the change; nil where there is none.
func (h *past) scatter(own, shared *mat.SymDense, turbulence []float64) *mat.SymDense {
	if h == nil {
		return nil
	}
	out := mat.NewSymDense(own.SymmetricDim(), nil)
	for i := range turbulence {
		for j := i; j < len(turbulence); j++ {
			out.SetSym(i, j, own.At(i, j)/max(h.uses, 1)+shared.At(i, j)/h.days)
		}
		out.SetSym(i, i, out.At(i, i)+turbulence[i]/(usualRun*h.runs))
	}
	return out
}

// usualRun is about how many seconds of steady air a run holds.
const usualRun = 120.0

// told returns what a suspect of a size that is not quite known adds on average to the next run of a set of gates, and
// with what covariance. What earlier runs of these gates have told since the change is not told again: their mean, which
// scatters by past, has fitted the set's doubtful ratio to each suspect already.
//
//	mean  F·s·x̂,  F = P(B+P)⁻¹  with the doubt B and the scatter of the past P; F = 1 without a past
//	cov   F·B + F·s·sᵀ·Fᵀ·Var x
func told(shape []float64, size Value, doubt, past *mat.SymDense) ([]float64, *mat.SymDense) {
	n := len(shape)
	s, left := mat.NewVecDense(n, append([]float64(nil), shape...)), mat.NewSymDense(n, nil)
	left.CopySym(doubt)
	if past != nil {
		var sum, inverse, share, kept mat.Dense
		sum.Add(doubt, past)
		if inverse.Inverse(&sum) == nil {
			share.Mul(past, &inverse)
			kept.Mul(&share, doubt)
			left.Zero()
			addHalves(left, &kept, 1)
			s.MulVec(&share, mat.NewVecDense(n, append([]float64(nil), shape...)))
		}
	}
	left.SymRankOne(left, size.SE*size.SE, s)
	mean := make([]float64, n)
	for i := range mean {
		mean[i] = size.V * s.AtVec(i)
	}
	return mean, left
}

// addHalves adds the symmetric part of a square matrix, which rounding has made not quite symmetric.
func addHalves(to *mat.SymDense, m *mat.Dense, weight float64) {
	n := to.SymmetricDim()
	for i := range n {
		for j := i; j < n; j++ {
			to.SetSym(i, j, to.At(i, j)+weight*(m.At(i, j)+m.At(j, i))/2)
		}
	}
}

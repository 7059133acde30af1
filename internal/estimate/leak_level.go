package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
)

// dailyGrowth is how far leakage may wander in a day without being told, in m³/s: seams that open by 15 m³/h a month, which are
// told within weeks, do 0.7 m³/h in a working day (common practice, no source).
const dailyGrowth = 0.5 / 3600

// suddenLeak is the probability that a leak begins on a day of work, or is mended (common practice, no source).
const suddenLeak = 0.01

// leakLevel is a local level of the total new leakage, in m³/s. What the baseline is off by is off in every day alike: the mean
// of many days knows it no better than one.
type leakLevel struct {
	detect.Level
	shared  float64 // standard deviation that the baseline's own error has in Mean
	counted float64 // and its variance as far as it is in Variance
}

// step takes one day's leakage, of whose variance shared² is the baseline's own error, after the level has walked, or, with the
// probability suddenLeak, jumped. What is left is the mean and the variance of both, each as likely as it makes the day: a leak
// that began this morning is not told on the evening as if there were none, and not as if it were sure.
func (l *leakLevel) step(y Value, shared, walk float64) {
	if !l.Known || math.IsNaN(y.V) || !(y.SE > 0) {
		l.move(y, shared, walk)
		return
	}
	still, jumped := *l, *l
	p := jumpedBy(y.V-l.Mean, y.SE*y.SE+l.Variance+walk)
	still.move(y, shared, walk)
	jumped.move(y, shared, walk+leakPrior*leakPrior)
	between := jumped.Mean - still.Mean
	l.Mean = still.Mean + p*between
	l.Variance = (1-p)*still.Variance + p*jumped.Variance + p*(1-p)*between*between
	l.shared = still.shared + p*(jumped.shared-still.shared)
	l.counted = still.counted + p*(jumped.counted-still.counted)
}

// move is step for a level that has walked by a variance.
func (l *leakLevel) move(y Value, shared, walk float64) {
	gain := l.Step(y.V, y.SE*y.SE, walk)
	l.shared += gain * (shared - l.shared)
	l.counted = (1-gain)*(1-gain)*l.counted + gain*gain*shared*shared
}

// jumpedBy returns the probability that a level has jumped that lies off by x where it would by a variance if it had not. In logs:
// far off, both densities are too small for a float64.
func jumpedBy(x, variance float64) float64 {
	wide := variance + leakPrior*leakPrior
	against := math.Log((1-suddenLeak)/suddenLeak) + math.Log(wide/variance)/2 - x*x*(1/variance-1/wide)/2
	return 1 / (1 + math.Exp(against))
}

// variance returns that of the level with the baseline's own error in it.
func (l *leakLevel) variance() float64 { return l.Variance - l.counted + l.shared*l.shared }

// baselineIn returns how much of the variance of a leak that a day shows in zone j is the baseline's own error, of which base is
// what the whole baseline knows by zone. A check with every gate shut is held against the baseline's own; the runs of an ordinary
// day are so many sets of gates that what the whole baseline knows of a leak tells it.
func (d *dayData) baselineIn(j int, variance float64, base []float64) float64 {
	if d.own != nil {
		return max(variance-d.own[j], 0)
	}
	return min(base[j], variance)
}

// zoneVariances returns, by zone, the variance of a leak there by an information; that of the prior where it says nothing.
func (e *Estimator) zoneVariances(info detect.Information, known []float64) []float64 {
	leak := e.marginalLeaks(info, known)
	out := make([]float64, len(e.cols.zones))
	for j := range out {
		out[j] = leakPrior * leakPrior
		if _, v, ok := leak(j); ok {
			out[j] = v
		}
	}
	return out
}

// baseVariances returns what the whole baseline knows of a leak in each zone, as a variance.
func (e *Estimator) baseVariances() []float64 {
	return e.zoneVariances(e.baseInfo, make([]float64, e.cols.changes))
}

// ownVariance returns, by zone, the variance that a leak would have by a day about x0 if the baseline's gate-shut readings were
// exact; nil for a day on which no gate-shut air was read.
func (s *system) ownVariance(x0 []float64) []float64 {
	if s.base == nil {
		return nil
	}
	exact := *s
	exact.normal = mat.NewSymDense(s.normal.SymmetricDim(), nil)
	exact.normal.AddSym(s.normal, s.base)
	info, ok := exact.reduce(x0, 0)
	if !ok {
		return nil
	}
	return s.e.zoneVariances(info, x0)
}

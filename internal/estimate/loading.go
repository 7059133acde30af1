package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A filter's way to its limit is a random walk with a drift: how much dust a day brings differs from day to day, and what
// one day brought more than usual the next does not take back.
const (
	dustCorrelation = 0.8  // h: the walk's variance per hour over the squared slope, a third of a day's dust in six hours (common practice, no source)
	dustBelief      = 6.0  // points' worth of belief in that
	leastWalk       = 2e-6 // per hour and squared ratio: machines and woods change
	pointError      = 0.004
	linePoints      = 60 // the last ones count
)

// loading returns how fast the resistance ratio rises per fan hour since the last cleaning, past cycles as prior. A
// cake of dust adds resistance in proportion to the dust that it holds (Δp = K₁V + K₂WV; Dembinski et al., Applied
// Sciences 2021, 11(19), 8965), so the ratio, not its log, is straight in the hours.
func (e *Estimator) loading() Value { return e.line().slope }

// loadLine is the way of the resistance ratio since the last cleaning.
type loadLine struct {
	now   Value   // at the last point
	slope Value   // per fan hour
	walk  float64 // variance per fan hour of the way ahead, beside the slope
	ok    bool
}

// line fits the walk by generalised least squares; past cycles are a prior for its slope.
func (e *Estimator) line() loadLine { return e.lineOf(e.filter.points) }

func (e *Estimator) lineOf(pts []filterPoint) loadLine {
	if len(pts) > linePoints {
		pts = pts[len(pts)-linePoints:]
	}
	unknown := loadLine{slope: Value{math.NaN(), math.NaN()}}
	n := len(pts)
	prior, priorVar := e.slopePrior()
	if n == 0 || n == 1 && priorVar == 0 {
		return unknown
	}
	last := pts[n-1]
	level := math.Exp(last.log.V)
	rough := prior
	if span := last.hours - pts[0].hours; span > 0 && (priorVar == 0 || n > 3) {
		rough = (level - math.Exp(pts[0].log.V)) / span
	}
	least := leastWalk * level * level
	usual := max(rough*rough*dustCorrelation, least)
	walk := usual
	var line loadLine
	for range 3 {
		var chi float64
		var ok bool
		if line, chi, ok = fitLine(pts, walk, prior, priorVar); !ok {
			return unknown
		}
		walk = max(walk*(dustBelief+chi)/(dustBelief+float64(max(n-2, 0))), least)
	}
	return line
}

// fitLine fits a random walk of the given variance per hour, and returns the squared distance of the points from it.
func fitLine(pts []filterPoint, walk, prior, priorVar float64) (line loadLine, chi float64, ok bool) {
	n := len(pts)
	last := pts[n-1].hours
	cov := mat.NewSymDense(n, nil)
	x := mat.NewDense(n, 2, nil) // level at the last point, slope
	y := mat.NewVecDense(n, nil)
	for i, p := range pts {
		r := math.Exp(p.log.V)
		y.SetVec(i, r)
		x.Set(i, 0, 1)
		x.Set(i, 1, p.hours-last)
		for j := i; j < n; j++ {
			cov.SetSym(i, j, walk*(last-pts[j].hours)) // what both lie behind the last point
		}
		se := r * max(p.log.SE, pointError)
		cov.SetSym(i, i, cov.At(i, i)+se*se)
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return line, 0, false
	}
	var wx mat.Dense
	var wy mat.VecDense
	_ = chol.SolveTo(&wx, x) // positive definite by the points' own errors
	_ = chol.SolveVecTo(&wy, y)
	var a mat.Dense
	var b mat.VecDense
	a.Mul(x.T(), &wx)
	b.MulVec(x.T(), &wy)
	a11, a12, a22, b1, b2 := a.At(0, 0), a.At(0, 1), a.At(1, 1), b.AtVec(0), b.AtVec(1)
	if priorVar > 0 {
		a22, b2 = a22+1/priorVar, b2+prior/priorVar
	}
	det := a11*a22 - a12*a12
	if !(det > 1e-12*a11*a22) {
		return line, 0, false
	}
	level, slope := (b1*a22-b2*a12)/det, (a11*b2-a12*b1)/det
	var left, solved mat.VecDense
	left.MulVec(x, mat.NewVecDense(2, []float64{level, slope}))
	left.SubVec(y, &left)
	_ = chol.SolveVecTo(&solved, &left)
	line = loadLine{now: Value{level, math.Sqrt(a22 / det)}, slope: Value{slope, math.Sqrt(a11 / det)}, walk: walk, ok: true}
	return line, mat.Dot(&left, &solved), true
}

// slopePrior returns the mean loading of past cycles and its variance; 0 variance where there are none.
func (e *Estimator) slopePrior() (mean, variance float64) {
	s := e.filter.slopes
	if len(s) == 0 {
		return 0, 0
	}
	for _, x := range s {
		mean += x
	}
	mean /= float64(len(s))
	for _, x := range s {
		variance += (x - mean) * (x - mean)
	}
	n := float64(len(s))
	// a third of the slope is how much cycles differ until they have shown it (common practice, no source)
	variance = (variance + 2*mean*mean/9) / (n + 1)
	return mean, variance
}

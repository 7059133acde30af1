package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
)

// track follows the total new leakage by a local level.
func (e *Estimator) track(d *dayData) {
	y, shared := e.leakOfDay(d, e.baseVariances())
	walk := math.Pow(dailyGrowth, 2)
	before := e.level
	e.level.step(y, shared, walk)
	if before.Known && len(e.changes) == 0 && !math.IsNaN(y.V) {
		z := (y.V - before.Mean) / math.Sqrt(before.Variance+walk+y.SE*y.SE)
		e.scatter.between += min(z*z, 9)
		e.scatter.nBetween++
	}
	if !before.Known || len(e.changes) > 0 {
		e.replayLevel()
	}
}

// replayLevel runs the local level over the days since the last change.
func (e *Estimator) replayLevel() {
	from := 0
	slope, doubt := 0.0, 0.0 // m³/s a day
	if n := len(e.changes); n > 0 {
		c := e.changes[n-1]
		day := c.onset
		if c.ended >= 0 {
			day = c.ended
		} else if c.profile == detect.Ramp && e.cols.isLeak(c.col) {
			// it grows with the probability that it is no step
			p := 1 / (1 + math.Exp(-c.sure))
			slope, doubt = p*c.size, math.Sqrt(p*(1-p))*c.size
		}
		from = max(e.indexOf(day), 0)
	}
	e.level = leakLevel{}
	base := e.baseVariances()
	walk := math.Pow(dailyGrowth, 2)
	for _, d := range e.days[from:] {
		y, shared := e.leakOfDay(d, base)
		if e.level.Known {
			e.level.Mean += slope
		}
		e.level.step(y, shared, walk+doubt*doubt)
	}
}

// leakOfDay returns the total new leakage that a day shows by itself, over the zones by their probability, and the standard
// deviation that the baseline's own error, which all days share, has in it; base is that of the whole baseline by zone.
func (e *Estimator) leakOfDay(d *dayData, base []float64) (leakage Value, shared float64) {
	weight := e.zoneWeights()
	fixed := e.known(d.at)
	inflation := e.scatter.inflation()
	var sw, sx, sxx, ss float64
	leak := e.marginalLeaks(d.info, fixed)
	for j := range e.cols.zones {
		x, v, ok := leak(j)
		if !ok || weight[j] == 0 {
			continue
		}
		ss += weight[j] * inflation * d.baselineIn(j, v, base)
		v *= inflation
		sw += weight[j]
		sx += weight[j] * x
		sxx += weight[j] * (x*x + v)
	}
	if sw == 0 {
		return Value{math.NaN(), math.NaN()}, 0
	}
	mean := sx / sw
	return Value{V: mean, SE: math.Sqrt(max(sxx/sw-mean*mean, 0))}, math.Sqrt(ss / sw)
}

// zoneWeights returns how probable each zone is to hold what leaks: by the latest leak found, else evenly over all that
// the collector always draws on. A leak on a machine's side of its gate shows only while that gate is open, where it
// cannot be told from a change of the hood: it counts once it has been found.
func (e *Estimator) zoneWeights() []float64 {
	w := make([]float64, len(e.cols.zones))
	for i := len(e.changes) - 1; i >= 0; i-- {
		c := e.changes[i]
		if e.cols.isLeak(c.col) && c.value(1<<30) != 0 {
			copy(w, c.mass[:len(w)])
			return w
		}
	}
	for j, z := range e.cols.zones {
		if !e.seen[j] {
			continue
		}
		switch kind := partKind(z); {
		case kind == "drop", kind == "inlet", kind == "run" && !e.cols.gated[j] && !e.cols.isRepeat(j):
			w[j] = 1
		case kind == "seat":
			w[j] = 0.3
		}
	}
	return w
}

// judgeZones marks the zones whose leak the baseline could have seen: of the others, little can be told before they are
// found.
func (e *Estimator) judgeZones() {
	n := len(e.cols.zones)
	e.seen = make([]bool, n)
	variance := make([]float64, n)
	least := math.Inf(1)
	zero := make([]float64, e.cols.changes)
	leak := e.marginalLeaks(e.baseInfo, zero)
	for j := range n {
		_, v, ok := leak(j)
		if !ok {
			v = math.Inf(1)
		}
		variance[j] = v
		least = min(least, v)
	}
	for j, v := range variance {
		e.seen[j] = v <= 25*least
	}
}

// marginalLeaks tells, for each zone j, the total leak if all that is unknown of it lies there: the known leaks plus what
// the information says beyond them, each drop's loss free to wander.
func (e *Estimator) marginalLeaks(info detect.Information, known []float64) func(j int) (x, variance float64, ok bool) {
	free, prior := make([]int, len(e.cols.machines)), e.creep.drifts()
	for m := range free {
		free[m] = e.cols.block0 + m
	}
	free, prior = e.withTear(free, prior)
	w := mat.NewVecDense(e.cols.changes, nil)
	w.MulVec(info.Lambda, mat.NewVecDense(e.cols.changes, known))
	w.SubVec(info.Eta, w)
	marginal := detect.Marginals(info.Lambda, w, free, prior)
	total := 0.0
	for z := range e.cols.zones {
		total += known[z]
	}
	return func(j int) (x, variance float64, ok bool) {
		size, variance, ok := marginal(j)
		if !ok {
			return 0, 0, false
		}
		// a zone of which the information says nothing keeps its prior
		keep := leakPrior * leakPrior / (leakPrior*leakPrior + variance)
		return total + size*keep, variance * keep, true
	}
}

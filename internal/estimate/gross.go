package estimate

import (
	"math"
	"slices"

	"ductward/internal/detect"
)

// A fan that turns backwards leaves a third of its pressure. That is so far from where the model was linearised that the
// scan would name whatever bends the other way. Where every tap reads far too little, the size is therefore sought on the
// model itself first, and the scan begins there.
const (
	grossShare = 0.68 // of what is expected, at every tap: the drop of a filter goes with the flow, all else with its square
	grossStep  = 0.1  // of the log of the fan's pressure
	grossSteps = 18   // down to 17 %
	grossLeft  = 0.10 // what may be left between readings and model then, r.m.s. of the log
)

// gross looks whether a day shows a fan that lost much of its pressure in most of its runs, and tells it.
func (e *Estimator) gross(d *dayData) bool {
	x0 := e.known(d.at)
	weak := 0
	for i := range d.obs {
		if e.isWeak(&d.obs[i], x0) {
			weak++
		}
	}
	if 2*weak <= len(d.obs) || weak < deadRuns {
		return false
	}
	cols, best, left := []int{e.cols.fan}, (*change)(nil), grossLeft
	if e.cols.metered() {
		cols = append(cols, e.cols.fan+1)
	}
	for _, col := range cols {
		step := -grossStep
		if col == e.cols.fan {
			step /= 2 // pressure goes with the square of the speed
		}
		for n := 1; n <= grossSteps; n++ {
			x := append([]float64(nil), x0...)
			x[col] += step * float64(n)
			if miss := e.missOf(d, x); miss < left {
				left, best = miss, &change{col: col, size: step * float64(n)}
			}
		}
	}
	if best == nil {
		return false
	}
	e.acceptGross(best, d.at)
	return true
}

// acceptGross takes in a change whose size is known roughly.
func (e *Estimator) acceptGross(c *change, day int) {
	for _, o := range e.changes {
		e.halt(o, day)
	}
	c.onset, c.low, c.high, c.told, c.named, c.ended, c.profile = day, day, day, day, day, -1, detect.Step
	e.changes = append(e.changes, c)
	e.segment = len(e.days) - 1
	e.settleChange(c)
	e.level = leakLevel{}
	e.tell(c)
}

// regained looks whether a fan that had lost much of its pressure has it again, and ends what was told of it. From where the
// model is linearised meanwhile that is as far away as it was to there. The days between say nothing of anything else, since
// no law of a fan that turns backwards is as good as a baseline: they leave the record.
func (e *Estimator) regained(d *dayData) {
	if !e.faint() {
		return
	}
	c := e.changes[len(e.changes)-1]
	with := e.known(d.at)
	without := append([]float64(nil), with...)
	without[c.col] -= c.value(d.at)
	if left := e.missOf(d, without); left > grossLeft || left > e.missOf(d, with) {
		return
	}
	e.changes = e.changes[:len(e.changes)-1]
	e.days = slices.DeleteFunc(slices.Clone(e.days), func(o *dayData) bool { return o.at >= c.onset })
	e.segment = 0
	if n := len(e.changes); n > 0 {
		last := e.changes[n-1]
		e.segment = max(e.indexOf(max(last.onset, last.ended)), 0)
	}
	e.relinearise(max(len(e.days)-lateDays, 0)) // they are the last ones again
	e.level = leakLevel{}
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && f.Active() {
			f.Ended = d.began()
		}
	}
}

// faint tells whether the fan has lost much of its pressure by the latest change, and has not got it back.
func (e *Estimator) faint() bool {
	if len(e.changes) == 0 {
		return false
	}
	c := e.changes[len(e.changes)-1]
	return c.ended < 0 && e.isGross(c)
}

// isGross tells whether a change leaves the fan so little pressure as gross finds.
func (e *Estimator) isGross(c *change) bool {
	switch e.cols.kind(c.col) {
	case fanChange:
		return 2*c.size < math.Log(grossShare)
	case wheelChange, behindChange:
		return c.size < math.Log(grossShare)
	}
	return false
}

// shares returns, by channel of a run, the log of what was read over what is expected with x known to have changed; nil where
// that cannot be told.
func (e *Estimator) shares(o *observation, x []float64) []float64 {
	st := &state{logFilter: e.logFilterNow(), params: x, globals: e.cal.globals}
	v, _, _, err := e.viewer.at(o.set, st, o.air)
	if err != nil {
		return nil
	}
	bias := e.biasOf(o.set.key)
	out := make([]float64, len(o.have))
	for i, c := range o.have {
		out[i] = math.Log(max(o.value[i]/(v.pred[c]*(1+bias[c])), deadShare))
	}
	return out
}

// isWeak tells whether a run has two taps or more and all read far too little.
func (e *Estimator) isWeak(o *observation, x []float64) bool {
	taps := 0
	for i, share := range e.shares(o, x) {
		switch {
		case e.cols.meters[o.have[i]].fan:
		case share >= math.Log(grossShare):
			return false
		default:
			taps++
		}
	}
	return taps > 1
}

// missOf returns the r.m.s. of the logs of what a day's runs read over what is expected with x known to have changed.
func (e *Estimator) missOf(d *dayData, x []float64) float64 {
	sum, n := 0.0, 0.0
	for i := range d.obs {
		for _, share := range e.shares(&d.obs[i], x) {
			sum += share * share
			n++
		}
	}
	if n == 0 {
		return math.Inf(1)
	}
	return math.Sqrt(sum / n)
}

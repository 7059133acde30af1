package estimate

import (
	"math"
	"slices"
	"sort"

	"ductward/internal/detect"
	"ductward/internal/shop"
)

// accept takes a change into what is known, and tells it. One that would be withdrawn as too small the next day, as nobody knows
// where it is and how large it would be there, is left until it is known better.
func (e *Estimator) accept(best *detect.Score, scores []detect.Score, hyps []detect.Hypothesis) {
	col := hyps[best.Hypothesis].Param
	if e.mend(best, col) {
		return
	}
	c := &change{col: col, onset: e.days[best.Onset].at, profile: best.Profile, size: best.Size, ended: -1,
		told: e.days[len(e.days)-1].at, named: e.days[len(e.days)-1].at}
	was, segment := make([]change, len(e.changes)), e.segment
	for i, o := range e.changes {
		was[i] = *o
		e.halt(o, c.onset)
	}
	e.changes = append(e.changes, c)
	e.weigh(c, best, scores, hyps)
	e.segment = best.Onset
	e.settleChange(c)
	if e.shrunk(c) {
		e.segment = segment
		e.leave(c, was)
		return
	}
	e.level = leakLevel{}
	e.tell(c)
}

// leave takes back a change that was not told; was are the others as they were before.
func (e *Estimator) leave(c *change, was []change) {
	e.changes = without(e.changes, c)
	for i, o := range e.changes {
		if o.profile != was[i].profile { // it was halted
			*o = was[i]
			e.retell(o)
		}
	}
	e.relinearise(max(e.indexOf(c.onset), 0))
}

// weigh sets the probabilities of place, the interval of the onset and the size of a change from the scores.
func (e *Estimator) weigh(c *change, best *detect.Score, scores []detect.Score, hyps []detect.Hypothesis) {
	top := math.Inf(-1)
	for i := range scores {
		top = max(top, scores[i].Evidence)
	}
	c.mass = make([]float64, e.cols.changes)
	byDay := map[int]float64{}
	total := 0.0
	now := len(e.summary)
	if n := len(e.days); n > 0 {
		now = e.days[n-1].at
	}
	c.sizes = make([]Value, e.cols.changes)
	var sw, sx, sxx float64
	for i := range scores {
		s := &scores[i]
		h := hyps[s.Hypothesis]
		if h.Sign*s.Size < 0 {
			continue
		}
		w := h.Weight * math.Exp(s.Evidence-top)
		total += w
		c.mass[h.Param] += w
		byDay[s.Onset] += w
		x, v := s.Size, s.Variance
		if s.Profile == detect.Ramp {
			k := float64(now - e.days[s.Onset].at + 1)
			x, v = x*k, v*k*k
		}
		c.sizes[h.Param].V += w * x
		c.sizes[h.Param].SE += w * (x*x + v)
		if e.sameClass(h.Param, c.col) && e.sameUnit(h.Param, c.col) {
			sw += w
			sx += w * x
			sxx += w * (x*x + v)
		}
	}
	for j := range c.mass {
		if m := c.mass[j]; m > 0 {
			x := c.sizes[j].V / m
			c.sizes[j] = Value{V: x, SE: math.Sqrt(max(c.sizes[j].SE/m-x*x, 0))}
		}
		c.mass[j] /= total
	}
	if sw == 0 { // the best score itself is always of its class and sign: only rounding can empty the sum
		sw, sx, sxx = 1, best.Size, best.Size*best.Size+best.Variance
	}
	c.mean = sx / sw
	c.sd = math.Sqrt(max(sxx/sw-c.mean*c.mean, best.Variance*1e-6))
	switch e.cols.kind(c.col) {
	case leakChange:
		c.sd = math.Hypot(c.sd, e.leakScale()*c.mean)
	case tearChange:
		c.sd = math.Hypot(c.sd, math.Hypot(e.flowScale(), mediumLaw)*c.mean)
	}
	low, high := interval(byDay, total, 0.9)
	c.low, c.high = e.days[low].at, e.days[high].at
}

// mediumLaw is the relative error of what a hole in the filter's medium lets pass, since the drop of a thirtieth of the usual air is not
// quite a thirtieth of the usual drop (common practice, no source).
const mediumLaw = 0.08

// sameUnit tells whether the sizes of two columns of a class are of one thing: not the fan's speed and its pressure.
func (e *Estimator) sameUnit(a, b int) bool {
	return (e.cols.kind(a) == fanChange) == (e.cols.kind(b) == fanChange)
}

// flowScale returns the relative error of every flow that the tool tells: the root of a velocity sensor's gain, with the
// fan's curve beside it, or the fan's curve alone (common practice, no source). Nothing in the readings makes it less.
func (e *Estimator) flowScale() float64 {
	if e.tapUnknown() {
		return unknownTap
	}
	if e.measures(shop.VelocityPressure) {
		return 0.02
	}
	return 0.04
}

// unknownTap is that error where a static tap sits in a duct of a size that nobody has told, so that a part of the fan's pressure
// that goes into the air's speed there is not known: a fifth more or less of the diameter is one or two tenths of the suction, and that a
// tenth of the flow of a fan at work.
const unknownTap = 0.10

// tapUnknown tells whether it is so: nothing is drawn, the shop file has no diameter, and no velocity is measured.
func (e *Estimator) tapUnknown() bool {
	if !e.undrawn || e.measures(shop.VelocityPressure) {
		return false
	}
	return !slices.ContainsFunc(e.collector.Sensors, func(s *shop.Sensor) bool {
		return s.Measures == shop.StaticPressure && s.Run != "fan" && s.Diameter > 0
	})
}

// leakScale is the relative error that every leak's size has besides: the scale of flows, and the way from the suction
// at which it was seen, with all gates shut that of the fan near shut-off, to the reference, by an exponent that is not
// known.
func (e *Estimator) leakScale() float64 {
	return math.Hypot(e.flowScale(), leakExponentError*math.Log(max(e.shutOff(), e.reference)/e.reference))
}

// shutOff returns the fan's pressure with no flow, in Pa, at the speed at which it runs.
func (e *Estimator) shutOff() float64 {
	f := &e.collector.Fan
	speed := f.RunningRatio()
	if c := f.Coefficients; len(c) > 0 {
		return c[0] * speed * speed
	}
	if p := f.Points; len(p) > 0 {
		return p[0].Pressure * speed * speed
	}
	return e.reference
}

// interval returns the central interval of a distribution over days.
func interval(mass map[int]float64, total, confidence float64) (low, high int) {
	var days []int
	for d := range mass {
		days = append(days, d)
	}
	sort.Ints(days)
	tail := (1 - confidence) / 2
	cum := 0.0
	low, high = days[0], days[len(days)-1]
	found := false
	for _, d := range days {
		cum += mass[d] / total
		if !found && cum >= tail {
			low, found = d, true
		}
		if cum >= 1-tail {
			high = d
			break
		}
	}
	return low, high
}

// mend takes in that what was known to have changed went back, wholly or in part: a leak was sealed, a drop cleared, a belt
// tightened. It returns false where the score is no such thing. Of a leak that is less than none nothing is made.
func (e *Estimator) mend(best *detect.Score, col int) bool {
	day, now := e.days[best.Onset].at, e.days[len(e.days)-1].at
	for i := len(e.changes) - 1; i >= 0; i-- {
		c := e.changes[i]
		was := c.value(now)
		if c.col != col || was == 0 {
			continue
		}
		if was*best.Size > 0 {
			return false
		}
		left := was + best.Size
		if left*was < 0 || math.Abs(left) < 0.25*math.Abs(c.mean) || math.Abs(left) < 1.5*math.Sqrt(best.Variance) {
			left = 0 // what goes beyond the baseline is another change, and is found as one
		}
		e.refineUntil(c, best.Onset)
		e.takeBack(c, day, left, best)
		return true
	}
	return e.cols.isLeak(col) && best.Size < 0
}

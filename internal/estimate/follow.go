package estimate

import (
	"math"
	"slices"

	"ductward/internal/detect"
)

// refine scores the latest change again with all days known so far: its size, place and onset sharpen as it goes on.
func (e *Estimator) refine(c *change) {
	first := e.indexOf(c.onset)
	if first < 0 {
		return
	}
	e.changes = without(e.changes, c) // its own part of the record must show
	scores, hyps := e.scoreAll(e.reach(first), first)
	e.changes = append(e.changes, c)
	late := bestOf(scores, hyps, func(s *detect.Score) bool { return e.days[s.Onset].at > c.told+1 })
	scores = slices.DeleteFunc(scores, func(s detect.Score) bool { return e.days[s.Onset].at > c.told+1 })
	own := e.class(c.col)
	within := func(class int) *detect.Score {
		return bestOf(scores, hyps, func(s *detect.Score) bool { return e.class(hyps[s.Hypothesis].Param) == class })
	}
	best := within(own)
	if kind, logs := e.likeliest(scores, hyps); kind != own && (best == nil || logs[kind] > logs[own]+e.overruleBy(own, kind)) {
		if other := within(kind); other != nil && e.matters(other, hyps) {
			best = other
		}
	}
	if best == nil || e.cols.isLeak(hyps[best.Hypothesis].Param) && best.Size < 0 {
		return
	}
	if late != nil && late.Evidence > best.Evidence+overrule {
		c.closed = true // something else has happened since: the scan is to find it, and this one stays as it was
		return
	}
	c.col, c.profile = hyps[best.Hypothesis].Param, best.Profile
	c.onset, c.size = e.days[best.Onset].at, best.Size
	c.sure = math.Inf(-1)
	if step := bestOf(scores, hyps, func(s *detect.Score) bool { return s.Profile == detect.Step }); step != nil {
		c.sure = best.Evidence - step.Evidence
	}
	e.weigh(c, best, scores, hyps)
	e.segment = best.Onset
}

// refineUntil scores a change again with the days before one on which it went back, and tells it for the last time: until it
// is known to have gone back, the days since make it look smaller.
func (e *Estimator) refineUntil(c *change, end int) {
	if first := e.indexOf(c.onset); first < 0 || first >= end {
		return
	}
	days, was := e.days, *c
	e.days = days[:end:end]
	e.refine(c)
	e.days = days
	if c.closed || !e.sameClass(c.col, was.col) {
		*c = was
		return
	}
	e.retell(c)
}

// settleChange takes a change to where the model, linearised there, says that it is: Newton's method with bounded steps,
// since far from where it was linearised a large change looks larger still.
func (e *Estimator) settleChange(c *change) {
	c.size = e.within(c.col, 0, c.size)
	c.spread = e.spreadOver(c)
	for range settlings {
		e.relinearise(max(e.indexOf(c.onset), 0))
		col, size := c.col, c.size
		e.refine(c)
		if c.closed {
			return
		}
		if c.col != col {
			size = 0
		}
		bounded := e.within(c.col, size, c.size)
		c.mean += bounded - c.size // the spread is that of the last step
		c.size = bounded
		if c.col == col && math.Abs(c.size-size) < e.moved(c.col) {
			return
		}
	}
	e.relinearise(max(e.indexOf(c.onset), 0))
}

// settlings is how often a change is scored again at most.
const settlings = 8

// within bounds a step of the logarithm of a loss or of the fan's speed.
func (e *Estimator) within(col int, from, to float64) float64 {
	most := math.Inf(1)
	switch e.cols.kind(col) {
	case blockChange, chokeChange:
		most = 0.5
	case fanChange, scaleChange:
		most = 0.1
	case wheelChange, behindChange:
		most = 0.25
	}
	return min(max(to, from-most), from+most)
}

// moved is the step of a change below which the model's linearisation holds.
func (e *Estimator) moved(col int) float64 {
	switch e.cols.kind(col) {
	case leakChange, tearChange:
		return leakPrior / 10
	case blockChange, chokeChange:
		return 0.1
	}
	return 0.01
}

// overrule is how much more evidence, as a log, another kind of change needs to take the place of the one that was told.
const overrule = 3.0

// overruleBy returns how much more evidence one class needs to take the place of another. Which of the machines has its drop
// blocked, or which of the sensors disagrees, is one question, and the finding names what is likeliest.
func (e *Estimator) overruleBy(own, other int) float64 {
	if e.oneQuestion(own, other) {
		return 0
	}
	return overrule
}

// oneQuestion tells whether two classes differ in the place alone.
func (e *Estimator) oneQuestion(a, b int) bool {
	return a == b || a >= 0 && b >= 0 && e.cols.kind(a) == e.cols.kind(b)
}

// reach returns how far back the scan for a change's onset may look: not behind an earlier change.
func (e *Estimator) reach(first int) int {
	from := max(0, first-25)
	for _, o := range e.changes {
		if i := e.indexOf(o.onset); i > from {
			from = min(i, first)
		}
	}
	return from
}

// young is for how many days a change is only scored again before another is looked for: what it is not yet known to be
// would pass for a second one.
const young = 3

// followUp scores the latest change again: with each day its size, place and onset are known better. It returns true
// while the change is young.
func (e *Estimator) followUp(d *dayData) (wait bool) {
	n := len(e.changes)
	if n == 0 {
		return false
	}
	for _, c := range e.changes[:n-1] {
		e.growOn(c, d.at)
	}
	c := e.changes[n-1]
	if c.ended >= 0 || c.closed || e.indexOf(c.onset) < 0 {
		e.growOn(c, d.at)
		return false
	}
	if d.at <= c.onset {
		return true
	}
	was := *c
	if e.spreadOver(c) != c.spread { // the days so far were fitted as if there were fewer
		c.spread = e.spreadOver(c)
		e.relinearise(max(e.indexOf(c.onset), 0))
	}
	e.refine(c)
	switch {
	case c.closed:
		return false
	case c.col != was.col:
		c.size = e.within(c.col, 0, c.size)
		e.relinearise(max(min(e.indexOf(c.onset), e.indexOf(was.onset)), 0))
		e.settleChange(c)
	case c.profile != was.profile || c.profile == detect.Step && math.Abs(c.size-was.size) > e.moved(c.col):
		e.relinearise(max(min(e.indexOf(c.onset), e.indexOf(was.onset)), 0))
		e.settleChange(c)
	}
	if c.closed {
		return false
	}
	if e.shrunk(c) {
		e.withdraw(was.finding)
		e.changes = without(e.changes, c)
		e.relinearise(max(e.indexOf(min(c.onset, was.onset)), 0))
		return false
	}
	switch {
	case !e.oneQuestion(e.class(c.col), e.class(was.col)):
		e.withdraw(was.finding)
		c.named = d.at
		e.tell(c)
		return true
	case !e.sameClass(c.col, was.col):
		c.named = d.at
	}
	e.retell(c)
	return d.at-c.named < young
}

// shrunk tells whether a change that was told has turned out to be too small to matter.
func (e *Estimator) shrunk(c *change) bool {
	if e.cols.isLeak(c.col) { // what was told at several standard errors is no longer there
		return c.mean < max(c.sd, e.least(c.col)/2)
	}
	return math.Abs(c.mean) < e.least(c.col)/2
}

// withdraw ends a finding that turned out to be something else.
func (e *Estimator) withdraw(id string) {
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == id && f.Active() {
			f.Ended = e.lastAt
			f.Text += " Later readings are explained better by another change: see what was found after it."
		}
	}
}

// growOn lets the finding of an earlier leak say how far it has grown since a later change took its place in the scan.
func (e *Estimator) growOn(c *change, day int) {
	if c.ended >= 0 || c.profile != detect.Ramp {
		return
	}
	grown := c.value(day)
	c.sd *= grown / c.mean
	c.mean = grown
	e.retell(c)
}

// withTear adds what passes the filter's medium to the columns that are free, with how well it is known, where a hole has been found:
// it changes what the drop tells of little air.
func (e *Estimator) withTear(free []int, prior []float64) ([]int, []float64) {
	sd := 0.0
	for _, c := range e.changes {
		if c.col == e.cols.tear && c.ended < 0 {
			sd = math.Hypot(sd, c.sd)
		}
	}
	if sd == 0 {
		return free, prior
	}
	return append(slices.Clone(free), e.cols.tear), append(slices.Clone(prior), sd)
}

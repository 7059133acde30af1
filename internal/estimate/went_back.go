package estimate

import (
	"math"

	"ductward/internal/detect"
)

// A gate that did not shut for weeks is a leak as large as a machine's air, and from where the model is linearised meanwhile the ducts
// without it are far away: when it shuts again, the scan would name whatever bends the other way. So a day is held against the model
// without each large change first.
const (
	backLeft  = 0.2  // what may be left between readings and model then, r.m.s. of the log
	backShare = 0.45 // of what is left with the change
)

// wentBack looks whether a large change that was known is gone on a day, and ends it.
func (e *Estimator) wentBack(d *dayData) bool {
	with := e.known(d.at)
	for _, c := range e.changes {
		was := c.value(d.at)
		if c.ended >= 0 || c.onset >= d.at || !e.isFar(c.col, was) {
			continue
		}
		without := append([]float64(nil), with...)
		without[c.col] -= was
		if left := e.missOf(d, without); left < backLeft && left < backShare*e.missOf(d, with) {
			e.takeBack(c, d.at, 0, &detect.Score{Onset: len(e.days) - 1, Size: -was, Variance: c.sd * c.sd})
			return true
		}
	}
	return false
}

// isFar tells whether a change is so large that the model is bent between it and none.
func (e *Estimator) isFar(col int, size float64) bool {
	switch e.cols.kind(col) {
	case leakChange:
		return size > leakPrior
	case blockChange, chokeChange:
		return math.Abs(size) > chokePrior
	}
	return false
}

// takeBack ends a change from a day on, of which so much is left.
func (e *Estimator) takeBack(c *change, day int, left float64, s *detect.Score) {
	c.ended, c.final = day, left
	e.segment = s.Onset
	e.relinearise(min(s.Onset, max(e.indexOf(c.onset), 0)))
	e.level = leakLevel{}
	if e.cols.isLeak(c.col) {
		e.tellMended(c, s)
	} else {
		e.tellUndone(c, s)
	}
}

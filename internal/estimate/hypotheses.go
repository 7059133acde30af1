package estimate

import (
	"math"
	"slices"

	"ductward/internal/detect"
)

// scatter follows how far the record scatters beyond what its days claim.
type scatter struct {
	within, between float64 // sums of squares
	nWithin         float64
	nBetween        float64
}

// priorDays is how many days' worth of belief the stated errors carry against the record's own scatter.
const priorDays = 10

func (s *scatter) day(innovation float64) {
	if !math.IsNaN(innovation) {
		s.within += innovation
		s.nWithin++
	}
}

// inflation returns the variance of the record over what its days claim, never below 1: a record that looks too good
// is only young.
func (s *scatter) inflation() float64 {
	w := (priorDays + s.within) / (priorDays + s.nWithin)
	b := (priorDays + s.between) / (priorDays + s.nBetween)
	return max(1, w, b)
}

// hypotheses lists what may have changed, one thing at a time.
func (e *Estimator) hypotheses() []detect.Hypothesis {
	known := e.known(len(e.summary))
	var out []detect.Hypothesis
	for j, sd := range e.changePriors() {
		h := detect.Hypothesis{Param: j, Prior: sd, Weight: e.priorWeight(j)}
		if h.Weight == 0 {
			continue
		}
		if e.cols.isLeak(j) {
			h.Growth = growthPrior
		}
		if e.cols.kind(j) == tearChange && known[j] > 0 {
			h.Weight = tearMended
		}
		if k := e.cols.kind(j); (k == leakChange || k == chokeChange || k == tearChange) && known[j] <= 0 {
			h.Sign = 1
		}
		if e.cols.kind(j) == behindChange && known[j] >= 0 {
			h.Sign = -1
		}
		out = append(out, h)
	}
	return out
}

// tearMended is the weight, among all that may change, of a hole in the filter's medium that was told and is there no more: nobody goes
// on with a torn filter (common practice, no source).
const tearMended = 0.2

// priorWeight is the share of a column among all that may change: leaks and blockages are what mostly happens; belts slip;
// a part's span does not jump by itself, but taps are moved and half plugged (common practice, no source).
func (e *Estimator) priorWeight(col int) float64 {
	k := &e.cols
	switch k.kind(col) {
	case leakChange:
		w := 0.55 / float64(len(k.zones))
		if k.straddle[2] > 0 && (col == k.straddle[0] || col == k.straddle[2]) {
			w *= 0.75 // two columns for one run
		}
		return w
	case blockChange:
		return 0.25 / float64(len(k.machines))
	case chokeChange:
		return 0.06 / float64(len(k.trunk))
	case tearChange:
		if !slices.Contains(k.ofFilter, true) {
			return 0
		}
		return 0.01
	case housingChange:
		return 0
	case fanChange:
		if k.metered() {
			return 0.07
		}
		return 0.09
	case wheelChange, behindChange:
		return 0.02
	}
	if !k.isScale(col) {
		return 0
	}
	return 0.03 / float64(len(k.channels))
}

// directions is the number of independent questions that the scan asks of the record: far fewer than hypotheses, since
// neighbouring zones look nearly alike. Two profiles of the trunk and of each drop; the loss of each drop and of the
// trunk, the filter's medium, the fan and what lies behind the tap, each sensor.
func (e *Estimator) directions() int {
	return 2*(1+len(e.cols.machines)) + len(e.cols.machines) + 4 + len(e.cols.channels)
}

// workingDays is how many days of fan sessions a year has.
const workingDays = 250

// scanShare is the share of the promised false alarms that the scan may use; the other half is for the filter, the air
// and the sensors.
const scanShare = 0.5

// threshold returns the standardised contrast at which a change is told.
func (e *Estimator) threshold() float64 {
	return detect.Threshold(e.promised()*scanShare/workingDays, window, e.directions())
}

// The least changes that matter to anybody: a smaller one is not told, however sure it may be.
const (
	leastBlock  = 0.06        // of the log of a drop's loss
	slightBlock = 0.095       // of the same: below a tenth it is noted and asks for nothing, a twentieth of the flow at most
	leastFan    = 0.005       // of the log of the fan's speed
	leastWheel  = 0.01        // of the log of the pressure that it makes
	leastScale  = 0.025       // of a sensor's scale
	leastTear   = 20.0 / 3600 // m³/s at the reference suction past the filter's medium
	leastChoke  = 0.25        // of the log of a trunk run's loss
)

// matters tells whether a score is of a change that is worth telling.
func (e *Estimator) matters(s *detect.Score, hyps []detect.Hypothesis) bool {
	size := math.Abs(s.Size)
	col := hyps[s.Hypothesis].Param
	if s.Profile == detect.Ramp {
		size *= float64(max(youngest, len(e.days)-s.Onset)) // what it is by now, or will be soon: growth is told by where it leads
	}
	least := e.least(col)
	if e.cols.kind(col) == blockChange {
		least = max(least, chipsTimes*e.chipsOf(col-e.cols.block0))
	}
	return size >= least
}

// leastLeak is the share of the leak that the shop wants to be told of below which not even a line is written: what no
// record tells from its own slow errors.
const leastLeak = 0.25

// least is the least change of a column that matters to anybody.
func (e *Estimator) least(col int) float64 {
	switch e.cols.kind(col) {
	case leakChange:
		return leastLeak * e.collector.Alarms.LeakToTell
	case blockChange:
		return leastBlock
	case chokeChange:
		return leastChoke
	case tearChange:
		return leastTear
	case fanChange:
		return leastFan
	case wheelChange, behindChange:
		return leastWheel
	}
	return leastScale
}

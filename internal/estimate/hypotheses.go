package estimate

import (
	"math"

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
	sd := e.changePriors()
	zonesLeft := float64(len(e.cols.zones))
	var out []detect.Hypothesis
	for j, s := range sd {
		h := detect.Hypothesis{Param: j, Prior: s, Weight: 1}
		switch {
		case e.cols.isLeak(j):
			h.Weight = 0.6 / zonesLeft // leaks and blockages are what mostly happens (common practice, no source)
			h.Sign = 1
			if known[j] > 0 {
				h.Sign = 0
			}
		case j < e.cols.fan:
			h.Weight = 0.25 / float64(len(e.cols.machines))
		case j == e.cols.fan:
			h.Weight = 0.08
		case e.cols.isScale(j):
			h.Weight = 0.07 / float64(len(e.cols.channels))
		default:
			continue
		}
		out = append(out, h)
	}
	return out
}

// directions is the number of independent questions that the scan asks of the record: far fewer than hypotheses, since
// neighbouring zones look nearly alike. Two profiles of the trunk and of each drop; the loss of each drop, fan, each
// sensor.
func (e *Estimator) directions() int {
	return 2*(1+len(e.cols.machines)) + len(e.cols.machines) + 1 + len(e.cols.channels)
}

// workingDays is how many days of fan sessions a year has.
const workingDays = 250

// scanShare is the share of the promised false alarms that the scan may use; the other half is for the filter, the air
// and the sensors.
const scanShare = 0.5

// threshold returns the standardised contrast at which a change is told.
func (e *Estimator) threshold() float64 {
	rate := e.collector.Alarms.FalseAlarmsPerYear
	if rate == 0 {
		rate = 1
	}
	return detect.Threshold(rate*scanShare/workingDays, window, e.directions())
}

// The least changes that matter to anybody: a smaller one is not told, however sure it may be.
const (
	leastBlock = 0.06  // of the log of a drop's loss
	leastFan   = 0.005 // of the log of the fan's speed
	leastScale = 0.025 // of a sensor's scale
)

// matters tells whether a score is of a change that is worth telling.
func (e *Estimator) matters(s *detect.Score, hyps []detect.Hypothesis) bool {
	size := math.Abs(s.Size)
	switch col := hyps[s.Hypothesis].Param; {
	case e.cols.isLeak(col):
		return true
	case col < e.cols.fan:
		return size >= leastBlock
	case col == e.cols.fan:
		return size >= leastFan
	}
	return size >= leastScale
}

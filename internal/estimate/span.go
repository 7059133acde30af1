package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"ductward/internal/detect"
)

// Where the sensor of the filter's drop reads otherwise by a factor, its readings alone look like another filter: the day's
// resistance takes the factor up. What is left shows at the other sensors, since another filter would have changed the flow,
// and there it looks like a fan that turns otherwise. But then the filter must have been changed by just so much on the same
// day: a filter is loaded little by little, and what a cleaning takes off is not a tenth. So how the resistance went over from
// the day before is evidence for the factor, or against it.
const (
	filterStep  = 0.03  // of the log resistance from one day to the next, by dust (common practice, no source); more where the record says so
	cleanedDays = 0.06  // of the days begin with a filter that was cleaned since the day before
	strangeStep = 0.002 // of them with another one that nothing explains
	strangeWide = 1.0   // of the log resistance: over how much that is spread
)

// filterScale is the column of the scale of the filter's own sensor, -1 where there is none.
func (k *columns) filterScale() int {
	for c, is := range k.ofFilter {
		if is {
			return k.gain0 + c
		}
	}
	return -1
}

// filterJump returns by how much the filter's log resistance changed from the day before to a day of the window, as the drop has
// it if its sensor reads as before, and the variance of that; false where one of the days tells nothing.
func (e *Estimator) filterJump(day int) (jump, variance float64, ok bool) {
	if day < 1 || len(e.days[day].filter) == 0 || len(e.days[day-1].filter) == 0 {
		return 0, 0, false
	}
	was, is := e.days[day-1], e.days[day]
	from, to := was.filter[len(was.filter)-1], is.filter[0]
	if from.SE > filterBlind || to.SE > filterBlind {
		return 0, 0, false
	}
	return to.V + is.scale - from.V - was.scale, from.SE*from.SE + to.SE*to.SE, true
}

// usualStep returns the standard deviation of the changes of the filter's log resistance from day to day where nobody cleans it:
// a filter that cleans itself takes others than one that is only loaded. The median does not see the cleanings.
func (e *Estimator) usualStep() float64 {
	var sizes []float64
	for day := range e.days {
		if jump, _, ok := e.filterJump(day); ok {
			sizes = append(sizes, math.Abs(jump))
		}
	}
	if len(sizes) == 0 {
		return filterStep
	}
	slices.Sort(sizes)
	return max(filterStep, sizes[len(sizes)/2]/medianOfNormal)
}

// medianOfNormal is the median size of a normal variable over its standard deviation.
const medianOfNormal = 0.6745

// stepDensity is the density of a change of the filter's log resistance from one day to the next that is known with a variance,
// and the share in it of ordinary loading, whose standard deviation is usual.
func stepDensity(jump, variance, usual float64) (density, loaded float64) {
	loaded = (1 - cleanedDays - strangeStep) * distuv.Normal{Sigma: math.Sqrt(usual*usual + variance)}.Prob(jump)
	cleaned := cleanedDays * distuv.Normal{Mu: cleanedShift, Sigma: math.Sqrt(cleanedSpread*cleanedSpread + variance)}.Prob(jump)
	density = loaded + cleaned + strangeStep/strangeWide
	return density, loaded / density
}

// withFilter adds to the scores of the filter's own sensor what the filter's resistance says of them: from onset to onset, how
// much likelier it went over from the day before as it did if the sensor changed by that factor than if it did not. An onset
// without a day before it says nothing of that sensor.
func (e *Estimator) withFilter(scores []detect.Score, hyps []detect.Hypothesis) []detect.Score {
	col, usual := e.cols.filterScale(), e.usualStep()
	var out []detect.Score
	for _, s := range scores {
		if hyps[s.Hypothesis].Param != col {
			out = append(out, s)
			continue
		}
		jump, variance, ok := e.filterJump(s.Onset)
		if !ok || s.Profile != detect.Step {
			continue
		}
		as, _ := stepDensity(jump, variance, usual)
		scaled, loaded := stepDensity(jump-s.Size, variance+s.Variance, usual)
		s.Evidence += math.Log(scaled / as)
		gain := loaded * s.Variance / (s.Variance + variance + usual*usual)
		s.Size += gain * (jump - s.Size)
		s.Variance *= 1 - gain
		out = append(out, s)
	}
	return out
}

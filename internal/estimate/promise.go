package estimate

// Promise is how the promise of few false alarms is kept by the search for changes of ducts, fan and sensors.
type Promise struct {
	PerYear     float64 // false alarms that are promised at most, of all that is watched
	Share       float64 // of them that the search may use; the rest is for the filter, the air at the machines and the sensors
	WorkingDays int     // that a year is taken to have
	Directions  int     // independent questions that are asked of the record each day
	Window      int     // days back to which every onset is tried
	Threshold   float64 // standard errors from which on a change is told
	GrowthDoubt float64 // how much more evidence, as a log, growth needs than a step

	Watched     int     // days that the baseline which stands has judged, beside its own
	Learnt      int     // days that the record's own scatter was learnt from, over all baselines
	Within      float64 // mean square of the runs about each day's fit, over what is stated; 1 as stated, NaN: none yet
	Between     float64 // the same of the leakage from day to day
	PriorDays   float64 // how many days' worth of belief the stated errors carry against the record's own
	Inflation   float64 // of the variance that every change is judged with, never below 1
	Correlation float64 // of each sensor's error from one day to the next, as it is counted on
}

// Promise returns how the promise is kept; nil where there is no drawing, and no such search.
func (e *Estimator) Promise() *Promise {
	if e.viewer == nil {
		return nil
	}
	p := &Promise{PerYear: e.promised(), Share: scanShare, WorkingDays: workingDays, Directions: e.directions(), Window: window,
		Threshold: e.threshold(), GrowthDoubt: growthDoubt, PriorDays: priorDays, Inflation: e.scatter.inflation(),
		Correlation: errorCorrelation, Learnt: int(e.scatter.nWithin), Within: e.scatter.within / e.scatter.nWithin, Between: e.scatter.between / e.scatter.nBetween}
	if e.cal != nil {
		p.Watched = e.epochs[e.cal.version-1].judged
	}
	return p
}

// promised is how many false alarms a year the owner was promised at most.
func (e *Estimator) promised() float64 {
	if rate := e.collector.Alarms.FalseAlarmsPerYear; rate > 0 {
		return rate
	}
	return 1
}

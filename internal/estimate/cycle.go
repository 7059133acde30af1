package estimate

import (
	"math"
	"slices"

	"ductward/internal/detect"
)

// closeDay ends the open day and draws from it what it holds.
func (e *Estimator) closeDay() {
	d := e.open
	e.open = nil
	if what := e.asked; what != nothingAsked {
		e.asked = nothingAsked
		if e.earlier > 0 && e.earlier == d.size() {
			defer e.renew(what) // the entry came after the day's work, which is still judged by the old baseline
		} else {
			e.renew(what)
			d.drop(e.earlier)
		}
	}
	e.thermometer = e.temperature != ""
	if e.viewer == nil {
		e.closeSimple(d)
		return
	}
	if d.leaveOut(); len(d.obs) == 0 {
		e.summary = append(e.summary, e.bare(d))
		return
	}
	e.lendAir(d.obs)
	e.thermometer = weatherOf(d.obs).temperature
	if e.cal == nil {
		e.gather(d)
		return
	}
	e.take(d)
}

// gather adds a day to the baseline in the making, and fits it when there is enough.
func (e *Estimator) gather(d *dayData) {
	e.gathered = append(e.gathered, d)
	e.summary = append(e.summary, e.bare(d))
	days, runs := e.gatheredSize()
	if days < baselineDays || runs < baselineRuns {
		return
	}
	for _, g := range e.gathered {
		e.reread(g)
	}
	f, cal := e.calibrate()
	if cal == nil {
		return // more days may determine it
	}
	f.crept(&e.creep)
	first, last := e.gathered[0].obs[0].run, d.obs[len(d.obs)-1].run
	cal.from, cal.to = first.At, last.At
	for i, day := range f.days {
		e.gathered[i].obs = day
	}
	e.cal = cal
	e.stand()
	e.begin()
}

// calibrate fits the model to the gathered runs that are as told: by the drawing, and then by the model that these make. It returns
// nil where they do not determine it.
func (e *Estimator) calibrate() (*baselineFit, *calibration) {
	days, out := e.asTold(tuning{})
	for pass := 1; ; pass++ {
		f := e.newFit(days)
		cal, err := f.fit()
		if err != nil {
			return nil, nil
		}
		cal.out = out
		again, more := e.asTold(cal.globals)
		if more <= out || pass == sievings {
			return f, cal
		}
		days, out = again, more
	}
}

// sievings is how often a baseline is fitted at most, with fewer runs each time.
const sievings = 4

// gatheredSize counts the days and runs of the baseline in the making.
func (e *Estimator) gatheredSize() (days, runs int) {
	for _, g := range e.gathered {
		if len(g.obs) >= baselineDayRuns {
			days++
		}
		runs += len(g.obs)
	}
	return days, runs
}

// begin takes the baseline's own days: they say how well the baseline is known.
func (e *Estimator) begin() {
	p := e.cols.changes
	clear(e.viewer.spreads) // they are of the calibration before
	for _, k := range sortedKeys(e.sets) {
		e.sets[k].flow = 0 // so is this
	}
	e.before = detect.NewInformation(p)
	e.baseInfo = detect.NewInformation(p)
	x0 := make([]float64, p)
	at := len(e.summary) - len(e.gathered)
	for i, d := range e.gathered {
		d.at = at + i
	}
	e.learnBaselineStirs(e.gathered, x0)
	e.judgeSets(e.gathered, x0)
	for _, d := range e.gathered {
		if !e.fitDay(d, x0, e.cal.logFilter) {
			continue
		}
		// the baseline says nothing about a change, only how well the zero of all changes is known
		e.baseInfo.Lambda.AddSym(e.baseInfo.Lambda, d.info.Lambda)
	}
	e.judgeZones()
	e.before.Add(1, e.baseInfo)
	e.addWeak(e.before, x0)
	e.calibrateFilter()
	for _, d := range e.gathered {
		if len(d.filter) == 0 {
			continue
		}
		e.filterDay(d)
		e.summary[d.at] = e.describe(d, Value{})
	}
	e.gathered = nil
	e.days = nil
	e.segment = 0
}

// addWeak adds the weak belief that the changes are near x.
func (e *Estimator) addWeak(i detect.Information, x []float64) {
	for j, sd := range e.changePriors() {
		k := 1 / (sd * sd)
		i.Lambda.SetSym(j, j, i.Lambda.At(j, j)+k)
		i.Eta.SetVec(j, i.Eta.AtVec(j)+k*x[j])
	}
}

// take takes a finished day against the baseline.
func (e *Estimator) take(d *dayData) {
	d.at = len(e.summary)
	if e.filterSilent(d) {
		e.fanRan(d)
		e.summary = append(e.summary, e.bare(d))
		return
	}
	e.regained(d)
	e.splitAtCleanings(d)
	x0 := e.known(d.at)
	if !e.fitDay(d, x0, e.filter.expect(e, d)) {
		e.fanRan(d)
		e.summary = append(e.summary, e.bare(d))
		return
	}
	e.cutLull(d, x0)
	e.cutAtChange(d, x0, e.filter.expect(e, d))
	e.days = append(e.days, d)
	e.summary = append(e.summary, Day{})
	e.scatter.day(d.innovation)
	e.epochs[e.cal.version-1].judged++
	untold := e.look(d)
	e.track(d)
	e.filterDay(d)
	if !e.faint() {
		e.learnDay(d)
	}
	e.airDay(d)
	e.lullDay(d)
	e.summary[d.at] = e.describe(d, untold)
	e.plan(d)
	e.prepareChecks(d)
	e.roll()
}

// look asks the record what has changed, the day just added among it. It returns what scan does.
func (e *Estimator) look(d *dayData) (untold Value) {
	if e.gross(d) || e.wentBack(d) || e.followUp(d) {
		return Value{}
	}
	return e.scan()
}

// filterSilent tells whether the filter's drop, which the shop measures, was not read in most of a day's runs. The filter may
// have been cleaned without anybody seeing it, and would then pass for a leak and a slow fan at once: nothing is told.
func (e *Estimator) filterSilent(d *dayData) bool {
	if !slices.Contains(e.cols.ofFilter, true) {
		return false
	}
	read := 0
	for i := range d.obs {
		if e.readsFilter(&d.obs[i]) {
			read++
		}
	}
	return 2*read < len(d.obs)
}

// provisional looks at the day that goes on, just after a closed check: a sudden leak need not wait for the evening.
func (e *Estimator) provisional() {
	d := e.open
	if e.filterSilent(d) {
		return
	}
	c := *d
	if c.leaveOut(); len(c.obs) == 0 {
		return
	}
	e.lendAir(c.obs)
	c.at = len(e.summary)
	e.regained(&c)
	x0 := e.known(c.at)
	if !e.fitDay(&c, x0, e.filter.expect(e, &c)) {
		return
	}
	e.cutLull(&c, x0)
	e.days = append(e.days, &c)
	e.look(&c)
	e.plan(&c)
	e.days = e.days[:len(e.days)-1]
}

// roll lets the oldest day go when the window is full: its information stays. What is only asked of the last days is
// forgotten.
func (e *Estimator) roll() {
	for i := range max(len(e.days)-lateDays, 0) {
		e.days[i].late = [lateDays]detect.Information{}
	}
	for len(e.days) > window {
		d := e.days[0]
		e.before.Add(1, e.residual(d))
		e.days = e.days[1:]
		e.segment = max(e.segment-1, 0)
	}
}

// bare is the summary of a day that says nothing.
func (e *Estimator) bare(d *dayData) Day {
	nan := Value{math.NaN(), math.NaN()}
	version := 0
	if e.cal != nil {
		version = e.cal.version
	}
	return Day{Baseline: version, Date: d.label, FanHours: d.fanHours, Runs: len(d.obs), ClosedChecks: d.closed, FilterRatio: nan, Leakage: nan,
		FanRatio: nan, Flow: nan, Innovation: math.NaN()}
}

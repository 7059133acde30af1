package estimate

import (
	"fmt"
	"math"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
)

// A full bin and damp dust show at nothing but the filter, which loads several times faster than usual. How much dust a day
// brings scatters by a third from day to day, lognormally as sums of many jobs do (common practice, no source): it takes a very
// fast day, or two or three fast ones.
const (
	dustOfDays = 0.4 // s.d. of the log of a day's dust, a little more than is usual
	fastSigma  = 4.0 // of that and of the usual loading's own error
	fastDays   = 3   // looked back
	leastUsual = 4   // points before them that the usual loading rests on, where no cycle has been seen
	fastLeast  = 2.0 // times the usual: less asks nothing of anybody, and a day of less is as usual again
	dampAir    = 0.75
)

// loadSpeed is how many times as fast as usual the filter has loaded over the last days.
type loadSpeed struct {
	log   Value // of the factor
	usual Value
	from  int // of the points: loading is told from there on
}

// speedOver compares the loading over the last n points with a usual one, per fan hour.
func (e *Estimator) speedOver(n int, usual Value) (loadSpeed, bool) {
	pts := e.filter.points
	from := len(pts) - 1 - n
	if from < 0 || !(usual.V > 0) {
		return loadSpeed{}, false
	}
	a, b := pts[from], pts[len(pts)-1]
	hours, rise := b.hours-a.hours, math.Exp(b.log.V)-math.Exp(a.log.V)
	if !(hours > 1) || !(rise > 0) {
		return loadSpeed{}, false
	}
	own := math.Hypot(max(a.log.SE, pointError)*math.Exp(a.log.V), max(b.log.SE, pointError)*math.Exp(b.log.V)) / math.Sqrt2
	se := math.Sqrt(math.Pow(dustOfDays, 2)/float64(n) + math.Pow(usual.SE/usual.V, 2) + math.Pow(own/rise, 2))
	return loadSpeed{log: Value{math.Log(rise / (usual.V * hours)), se}, usual: usual, from: from}, true
}

// watchLoading tells when the filter loads several times faster than usual, and when it no longer does.
func (e *Estimator) watchLoading() {
	f := &e.filter
	if e.viewer == nil || e.cal == nil {
		return // without a drawing a day's resistance is known to a tenth
	}
	if f.usual.V > 0 {
		e.watchFast()
		return
	}
	for n := 1; n <= fastDays; n++ {
		s, ok := e.speedOver(n, e.usualLoading(n))
		if ok && s.log.V > max(fastSigma*s.log.SE, math.Log(fastLeast)) {
			f.usual = s.usual
			e.tellFast(s)
			return
		}
	}
}

// usualLoading returns the loading per fan hour before the last n points: as past cycles were, or as this one was.
func (e *Estimator) usualLoading(n int) Value {
	pts := e.filter.points
	if mean, variance := e.slopePrior(); variance > 0 {
		return Value{mean, math.Sqrt(variance)}
	}
	if len(pts)-n < leastUsual {
		return Value{}
	}
	line := e.lineOf(pts[:len(pts)-n])
	if !line.ok {
		return Value{}
	}
	return line.slope
}

// watchFast brings the finding of a fast loading up to date, and ends it when a day is as usual.
func (e *Estimator) watchFast() {
	f := e.standing(finding.FilterLoadsFast, "")
	if f == nil {
		e.filter.usual = Value{}
		return
	}
	last, ok := e.speedOver(1, e.filter.usual)
	switch {
	case !ok && len(e.filter.points) < 2: // just cleaned: the next day tells
	case !ok || last.log.V < math.Log(fastLeast):
		f.Ended = e.lastAt
		e.filter.usual = Value{}
	default:
		n := 1 // since it began, or since the cleaning
		for n < len(e.filter.points)-1 && e.filter.points[len(e.filter.points)-1-n].at.After(f.OnsetLow) {
			n++
		}
		if s, ok := e.speedOver(n, e.filter.usual); ok {
			e.fastWords(f, s)
		}
	}
}

// tellFast raises the finding that the filter loads fast.
func (e *Estimator) tellFast(s loadSpeed) {
	pts := e.filter.points
	row := diagnosis.Of(finding.FilterLoadsFast)
	f := finding.Finding{Collector: e.collector.Name, Kind: finding.FilterLoadsFast, Priority: finding.Plan, Raised: e.lastAt,
		Onset: pts[s.from+1].at, OnsetLow: pts[s.from].at, OnsetHigh: pts[s.from+1].at, SizeUnit: "1", Confidence: confidence,
		Action:   row.Action(""),
		Evidence: "The resistance, corrected for flow and the air’s viscosity, per hour of the fan, against the days and cycles before. No pressure tells a full bin from damp dust."}
	f.ID = e.newID(f.Kind, "", f.Onset)
	e.fastWords(&f, s)
	e.findings = append(e.findings, f)
}

// fastWords writes how fast the filter loads, and what speaks for damp.
func (e *Estimator) fastWords(f *finding.Finding, s loadSpeed) {
	f.Size, f.SizeLow, f.SizeHigh = math.Exp(s.log.V), math.Exp(s.log.V-1.645*s.log.SE), math.Exp(s.log.V+1.645*s.log.SE)
	f.Text = fmt.Sprintf("The filter loads %.0f times as fast as usual (between %.1f and %.1f), since about %s.",
		f.Size, f.SizeLow, f.SizeHigh, e.dateWords(f.Onset))
	causes := diagnosis.Of(f.Kind).Words()
	humid := e.humidSince(s.from)
	switch {
	case math.IsNaN(humid):
		f.Text += " The bin may be full, or the media damp: the room’s humidity, which nobody reads, would tell more."
	case humid >= dampAir:
		f.Text += fmt.Sprintf(" The room’s air was at %.0f %% humidity on the mean: the media may be damp.", 100*humid)
		causes[0], causes[1] = causes[1], causes[0]
	default:
		f.Text += fmt.Sprintf(" The room’s air was at %.0f %% humidity on the mean, which makes no media damp: the bin may be full.", 100*humid)
	}
	f.ConfusableWith = causes
}

// humidSince returns the mean relative humidity over the points behind one; NaN where it was not measured.
func (e *Estimator) humidSince(from int) float64 {
	sum, n := 0.0, 0.0
	for _, p := range e.filter.points[from+1:] {
		if !math.IsNaN(p.humid) {
			sum += p.humid
			n++
		}
	}
	return sum / n
}

// humidIn returns the mean relative humidity in the runs of a part of a day; NaN where it was not measured.
func (e *Estimator) humidIn(d *dayData, part int) float64 {
	sum, n := 0.0, 0.0
	for i := range d.obs {
		if s := channelOf(d.obs[i].run, e.humidity); s != nil && d.obs[i].part == part {
			sum += s.Mean
			n++
		}
	}
	return sum / n
}

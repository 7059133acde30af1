package estimate

import (
	"fmt"
	"math"
	"time"

	"ductward/internal/air"
	"ductward/internal/detect"
	"ductward/internal/finding"
)

// dueConfidence is that of the interval of the cleaning's date.
const dueConfidence = 0.8

// loading returns how fast the resistance ratio rises per fan hour since the last cleaning, past cycles as prior. A
// cake of dust adds resistance in proportion to the dust that it holds (Δp = K₁V + K₂WV; Dembinski et al., Applied
// Sciences 2021, 11(19), 8965), so the ratio, not its log, is straight in the hours.
func (e *Estimator) loading() Value {
	line := e.line()
	return line.slope
}

// loadLine is a straight line through the resistance ratio since the last cleaning.
type loadLine struct {
	now   Value   // at the last point
	slope Value   // per fan hour
	walk  float64 // variance per fan hour of the way between the points, beyond the line
	ok    bool
}

// line fits the line. The residuals set the errors; past cycles are a prior for the slope.
func (e *Estimator) line() loadLine {
	pts := e.filter.points
	n := len(pts)
	if n == 0 {
		return loadLine{slope: Value{math.NaN(), math.NaN()}}
	}
	last := pts[n-1].hours
	prior, priorVar := e.slopePrior()
	// unknowns: level at the last point, slope
	var a11, a12, a22, b1, b2 float64
	if priorVar > 0 {
		a22, b2 = 1/priorVar, prior/priorVar
	}
	weight := make([]float64, n)
	for i, p := range pts {
		r := math.Exp(p.log.V)
		se := max(r*p.log.SE, 0.004*r)
		age := last - p.hours
		// what lies further back says less of the way ahead: machines and woods change
		weight[i] = 1 / (se*se + 2e-6*r*r*age)
		h := p.hours - last
		a11 += weight[i]
		a12 += weight[i] * h
		a22 += weight[i] * h * h
		b1 += weight[i] * r
		b2 += weight[i] * h * r
	}
	det := a11*a22 - a12*a12
	if !(det > 1e-12*a11*a22) || n+b2i(priorVar > 0) < 2 {
		return loadLine{now: Value{math.Exp(pts[n-1].log.V), pts[n-1].log.SE}, slope: Value{math.NaN(), math.NaN()}}
	}
	level := (b1*a22 - b2*a12) / det
	slope := (a11*b2 - a12*b1) / det
	chi := 0.0
	for i, p := range pts {
		d := math.Exp(p.log.V) - level - slope*(p.hours-last)
		chi += weight[i] * d * d
	}
	scale := max(1, (4+chi)/float64(4+max(n-2, 0)))
	return loadLine{
		now:   Value{level, math.Sqrt(scale * a22 / det)},
		slope: Value{slope, math.Sqrt(scale * a11 / det)},
		walk:  2e-6 * level * level * scale,
		ok:    true,
	}
}

// slopePrior returns the mean loading of past cycles and its variance; 0 variance where there are none.
func (e *Estimator) slopePrior() (mean, variance float64) {
	s := e.filter.slopes
	if len(s) == 0 {
		return 0, 0
	}
	for _, x := range s {
		mean += x
	}
	mean /= float64(len(s))
	for _, x := range s {
		variance += (x - mean) * (x - mean)
	}
	n := float64(len(s))
	// a third of the slope is how much cycles differ until they have shown it (common practice, no source)
	variance = (variance + 2*mean*mean/9) / (n + 1)
	return mean, variance
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// forecast says when the filter must be cleaned, and why: it reaches its own limit, or the neediest machine falls short.
func (e *Estimator) forecast() *Due {
	line := e.line()
	perDay, spread := e.fanHoursPerDay()
	if !line.ok || !(line.slope.V > 0) || !(perDay > 0) || e.lastAt.IsZero() {
		return nil
	}
	limit, reason := e.limitRatio(line.now.V)
	if math.IsNaN(limit) {
		return nil
	}
	gap := limit - line.now.V
	hours := max(gap, 0) / line.slope.V
	relSlope := line.slope.SE / line.slope.V
	if relSlope > 0.7 {
		return nil // the slope is not known well enough to name a day
	}
	sd := math.Sqrt(line.now.SE*line.now.SE+line.walk*hours) / line.slope.V
	sd = math.Hypot(sd, hours*relSlope)
	days := hours / perDay
	daysSD := math.Hypot(sd/perDay, days*spread)
	q := detect.Quantile(dueConfidence)
	day := func(d float64) time.Time {
		return e.lastAt.Add(time.Duration(min(max(d, 0), 3650) * 24 * float64(time.Hour)))
	}
	return &Due{Date: day(days), Low: day(days - q*daysSD), High: day(days + q*daysSD), Confidence: dueConfidence,
		Reason: reason, Ratio: limit / math.Exp(e.cal.logFilter)}
}

// fanHoursPerDay returns how long the fan runs per calendar day, and the relative error of that.
func (e *Estimator) fanHoursPerDay() (mean, spread float64) {
	d := e.filter.days
	if len(d) < 3 {
		return 0, 0
	}
	if len(d) > 25 {
		d = d[len(d)-25:]
	}
	span := d[len(d)-1].at.Sub(d[0].at).Hours()/24 + 1
	if len(d) >= 5 && span < 7 {
		span = 7 // the first week has not seen its end
	}
	var sum, sq float64
	for _, w := range d {
		sum += w.hours
		sq += w.hours * w.hours
	}
	n := float64(len(d))
	m := sum / n
	sd := math.Sqrt(max(sq/n-m*m, 0))
	return sum / span, (sd/m + 0.15) / math.Sqrt(n)
}

// limitRatio returns the resistance, over the shop file's clean value, at which the filter must be cleaned.
func (e *Estimator) limitRatio(now float64) (ratio float64, reason string) {
	ratio, reason = e.ownLimit(now), "filter-limit"
	if e.viewer == nil {
		return ratio, reason
	}
	if r, machine := e.airLimit(now, ratio); machine != "" && !(r >= ratio) {
		ratio, reason = r, "air-short:"+machine
	}
	return ratio, reason
}

// ownLimit returns the resistance at which the drop reaches the filter's own limit.
func (e *Estimator) ownLimit(now float64) float64 {
	f := e.collector.Filter
	if !(f.Limit > 0) || !(f.CleanDrop > 0) {
		return math.NaN()
	}
	viscous := (f.CleanDrop - f.HousingLoss) / f.CleanFlow
	if f.LimitFlow > 0 {
		housing := f.HousingLoss * math.Pow(f.LimitFlow/f.CleanFlow, 2)
		return (f.Limit - housing) / (viscous * f.LimitFlow)
	}
	if e.viewer == nil {
		q := e.typicalFlow()
		if math.IsInf(q, 1) {
			return math.NaN()
		}
		return (f.Limit - f.HousingLoss*math.Pow(q/f.CleanFlow, 2)) / (viscous * q)
	}
	set := e.widestSet()
	if set == nil {
		return math.NaN()
	}
	return e.bisect(now, func(r float64) bool {
		res, err := e.solveAt(set, r)
		return err == nil && res.FilterDrop >= f.Limit
	})
}

// airLimit returns the smallest resistance at which a machine that has enough air now with nothing else open would fall
// short. With other gates open as well it is the gates that take its air, and shutting them helps sooner than a cleaning.
//
// Only what comes before the filter's own limit counts, NaN if it has none.
func (e *Estimator) airLimit(now, own float64) (ratio float64, machine string) {
	ratio = math.Inf(1)
	last := own
	if math.IsNaN(own) {
		last = farRatio
	}
	for _, m := range e.collector.Machines {
		set := e.aloneSet(m.Name)
		if set == nil || math.IsNaN(m.Needs) {
			continue
		}
		enough := func(r float64) bool {
			res, err := e.solveAt(set, r)
			return err == nil && machineFlow(res, m.Name) >= m.Needs
		}
		if !enough(now) || enough(min(last, ratio)) {
			continue
		}
		if r := e.bisect(now, func(r float64) bool { return !enough(r) }); r < ratio {
			ratio, machine = r, m.Name
		}
	}
	if math.IsInf(ratio, 1) {
		return math.NaN(), ""
	}
	return ratio, machine
}

// farRatio is how far the resistance is followed: a filter at thirty times its clean value is past all use.
const farRatio = 30.0

// bisect returns the smallest ratio between now and farRatio where a condition holds, NaN where it never does.
func (e *Estimator) bisect(now float64, holds func(float64) bool) float64 {
	if holds(now) {
		return now
	}
	if !holds(farRatio) {
		return math.NaN()
	}
	lo, hi := math.Log(now), math.Log(farRatio)
	for hi-lo > 2e-3 {
		mid := (lo + hi) / 2
		if holds(math.Exp(mid)) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return math.Exp(hi)
}

// standardAir returns the air that forecasts assume.
func (e *Estimator) standardAir() air.State {
	a, err := air.At(e.site.Temperature, air.PressureAt(e.site.Altitude), e.site.Humidity)
	if err != nil {
		return air.Reference()
	}
	return a
}

// tellDue raises, refreshes or ends the finding that the filter is due.
func (e *Estimator) tellDue(due *Due) {
	notice := e.collector.Alarms.FilterNotice
	if notice == 0 {
		notice = 10 * 24 * time.Hour
	}
	standing := e.standing(finding.FilterDue, "")
	if due == nil || due.Date.Sub(e.lastAt) > notice {
		// a date that wanders out again by a few days is the same date
		if standing != nil && due != nil && due.Low.Sub(e.lastAt) > notice {
			standing.Ended = e.lastAt
		}
		return
	}
	if standing == nil {
		f := finding.Finding{Collector: e.collector.Name, Kind: finding.FilterDue, Raised: e.lastAt, Onset: e.lastAt,
			OnsetLow: e.lastAt, OnsetHigh: e.lastAt}
		f.ID = e.newID(f.Kind, "", e.lastAt)
		e.findings = append(e.findings, f)
		standing = &e.findings[len(e.findings)-1]
	}
	f := standing
	f.Priority = finding.Plan
	f.Confidence, f.SizeUnit = dueConfidence, "d"
	f.Size = due.Date.Sub(e.lastAt).Hours() / 24
	f.SizeLow = due.Low.Sub(e.lastAt).Hours() / 24
	f.SizeHigh = due.High.Sub(e.lastAt).Hours() / 24
	f.Text = fmt.Sprintf("Clean the filter between %s and %s (4 in 5): %s", e.dateWords(due.Low), e.dateWords(due.High), e.reasonWords(due.Reason))
	f.Action = "Plan the cleaning. " + caution + "Wear a respirator (APF 20 or more), use no compressed air and no broom, and enter it in the logbook."
	f.Evidence = "The resistance, corrected for flow and viscosity, and how fast it has risen per fan hour since the last cleaning."
}

// reasonWords says why the filter is due.
func (e *Estimator) reasonWords(reason string) string {
	if machine, ok := cutReason(reason); ok {
		return fmt.Sprintf("then %s falls below the air that it needs, before the filter's own limit.", machine)
	}
	return "then it reaches its own pressure limit."
}

func cutReason(reason string) (string, bool) {
	const prefix = "air-short:"
	if len(reason) > len(prefix) && reason[:len(prefix)] == prefix {
		return reason[len(prefix):], true
	}
	return "", false
}

// standing returns the standing finding of a kind and subject, nil if there is none.
func (e *Estimator) standing(kind finding.Kind, subject string) *finding.Finding {
	for i := range e.findings {
		if f := &e.findings[i]; f.Kind == kind && f.Subject == subject && f.Active() {
			return f
		}
	}
	return nil
}

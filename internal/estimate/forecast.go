package estimate

import (
	"fmt"
	"math"
	"time"

	"ductward/internal/air"
	"ductward/internal/detect"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
)

// dueConfidence is that of the interval of the cleaning's date.
const dueConfidence = 0.8

// forecast says when the filter must be cleaned, and why: it reaches its own limit, or the neediest machine falls short.
func (e *Estimator) forecast() *Due {
	line := e.line()
	week, ok := e.fanWeek()
	if !ok || !line.ok || !(line.slope.V > 0) || e.lastAt.IsZero() {
		return nil
	}
	limit, reason := e.limitRatio(line.now.V)
	if math.IsNaN(limit) {
		return nil
	}
	relSlope := line.slope.SE / line.slope.V
	if relSlope > 0.7 {
		return nil // the slope is not known well enough to name a day
	}
	hours := max(limit-line.now.V, 0) / line.slope.V
	sd := math.Sqrt(line.now.SE*line.now.SE+line.walk*hours) / line.slope.V
	sd = math.Hypot(math.Hypot(sd, hours*relSlope), hours*week.spread)
	q := detect.Quantile(dueConfidence)
	gone := e.filter.hours - e.filter.points[len(e.filter.points)-1].hours // since the last point, which is a day's middle
	day := func(h float64) time.Time { return week.after(e.lastAt, h-gone) }
	return &Due{Date: day(hours), Low: day(hours - q*sd), High: day(hours + q*sd), Confidence: dueConfidence,
		Reason: reason, Ratio: limit / math.Exp(e.cal.logFilter)}
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

// airLimit returns the smallest resistance at which a machine that has enough air with nothing else open falls short, the
// present one if it is so far already. With other gates open as well it is the gates that take its air, and shutting them helps sooner than a cleaning.
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
		if !enough(now) {
			if enough(e.cleanRatio()) {
				return now, m.Name // it is short already, and a cleaning would help
			}
			continue
		}
		if enough(min(last, ratio)) {
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

// cleanRatio returns the resistance that a cleaning leaves, over the shop file's clean value: as the last one did, or that
// value itself.
func (e *Estimator) cleanRatio() float64 {
	if n := len(e.filter.floors); n > 0 {
		return e.filter.floors[n-1].after
	}
	return 1
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
	f.Text = e.dueWords(due)
	f.Action = diagnosis.Of(f.Kind).Action("")
	f.Evidence = "The resistance, corrected for flow and viscosity, and how fast it has risen per fan hour since the last cleaning."
}

// dueWords says when the filter is due, and why.
func (e *Estimator) dueWords(due *Due) string {
	low, high := e.dateWords(due.Low), e.dateWords(due.High)
	switch {
	case !due.Date.After(e.lastAt):
		if machine, ok := cutReason(due.Reason); ok {
			return fmt.Sprintf("Clean the filter now: %s gets less air than it needs, before the filter's own limit.", machine)
		}
		return "Clean the filter now: it is at its own pressure limit."
	case low == high:
		return fmt.Sprintf("Clean the filter on %s (4 in 5): %s", low, e.reasonWords(due.Reason))
	}
	return fmt.Sprintf("Clean the filter between %s and %s (4 in 5): %s", low, high, e.reasonWords(due.Reason))
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

package trial

import (
	"math"
	"slices"

	"ductward/internal/finding"
	"ductward/internal/plant"
)

// ahead is how many days of work before a cleaning its date is judged.
const ahead = 10

// daysAYear is how many days of work promise one year's false alarms.
const daysAYear = 250.0

// measureHealthy counts what a plant without faults is troubled with, and follows its filter.
func measureHealthy(l *life, m Metrics) {
	alarms, days := 0.0, 0.0
	for i := range l.findings {
		if asks(&l.findings[i]) {
			alarms++
		}
	}
	for i := range l.told {
		if known(l.told[i].Leakage.V) {
			days++
		}
	}
	m.add("alarms", alarms)
	m.add("years", days/daysAYear)
	l.measureFilter(m)
}

// measureFilter compares the filter's resistance of each day with the truth. The baseline's own resistance is not known
// to anybody, so that the mean of all days is what both are told against.
func (l *life) measureFilter(m Metrics) {
	type at struct {
		day     int
		error   float64
		cleaned bool
	}
	var all []at
	mean, n := 0.0, 0.0
	for d := 1; d < l.days; d++ {
		t := l.day(d)
		if t == nil || !(t.FilterRatio.V > 0) || !l.work.Working(d) {
			continue
		}
		before := l.ratio[d-1]
		cleaned := l.cleaned(d)
		if cleaned {
			before = l.leftOn(d)
		}
		e := math.Log(t.FilterRatio.V) - math.Log((before+l.ratio[d])/2)
		all = append(all, at{d, e, cleaned})
		if !cleaned {
			mean, n = mean+e, n+1
		}
	}
	if n == 0 {
		return
	}
	mean /= n
	for _, a := range all {
		if a.cleaned {
			m.add("left", 100*(a.error-mean))
			m.add("cleaning seen", flag(l.cleaningSeen(a.day)))
			continue
		}
		m.add("filter", 100*(a.error-mean))
	}
	l.measureDue(math.Exp(mean), m)
}

// cleaned tells whether the filter was cleaned on a day: its resistance fell to less than two thirds.
func (l *life) cleaned(d int) bool { return l.ratio[d] < l.ratio[d-1]/1.5 }

// leftOn returns what the cleaning on a day left: it is done before work, and the day's dust comes after it.
func (l *life) leftOn(d int) float64 {
	left := l.ratio[d]
	for _, e := range l.work.Day(d) {
		if e.Kind == plant.CleanedEvent {
			left = e.Value
		}
	}
	return left
}

// cleaningSeen tells whether a cleaning was told, with the right day.
func (l *life) cleaningSeen(day int) bool {
	return slices.ContainsFunc(l.findings, func(f finding.Finding) bool {
		return f.Kind == finding.FilterCleaned && l.work.DayOf(f.Onset) == day
	})
}

// measureDue judges the forecasts made ten days of work before the filter came to what was forecast. Scale turns a true
// resistance into one told against the baseline.
func (l *life) measureDue(scale float64, m Metrics) {
	since := 1 // the first day after the last cleaning
	for d := 2; d < l.days; d++ {
		if l.cleaned(d) {
			since = d
		}
		from := l.workBefore(d, ahead)
		if from < since || from < faultDay {
			continue
		}
		t := l.day(from)
		if t == nil || t.Due == nil || !(t.Due.Ratio > 0) {
			continue
		}
		if limit := t.Due.Ratio; !(l.ratio[d-1]*scale < limit && limit <= l.ratio[d]*scale) {
			continue
		}
		m.add("due error", abs(float64(l.workedBetween(d, l.work.DayOf(t.Due.Date)))))
		low, high := l.work.DayOf(t.Due.Low), l.work.DayOf(t.Due.High)
		m.add("due held", flag(low <= d && d <= high))
	}
}

// workBefore returns the day that is so many days of work before another.
func (l *life) workBefore(day, n int) int {
	for day > 0 && n > 0 {
		day--
		if l.work.Working(day) {
			n--
		}
	}
	return day
}

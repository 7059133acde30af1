package estimate

import (
	"math"
	"time"
)

// fanWeek is how long the fan runs on each day of the week.
type fanWeek struct {
	hours  [7]float64 // expected, by time.Weekday
	spread float64    // relative error of their sum
}

// weekDays is how many days of work a week is learnt from.
const weekDays = 25

// fanWeek learns the week from the last days of work; false while there are fewer than three.
func (e *Estimator) fanWeek() (fanWeek, bool) {
	var w fanWeek
	days := e.filter.days
	if len(days) < 3 {
		return w, false
	}
	if len(days) > weekDays {
		days = days[len(days)-weekDays:]
	}
	var sum, square float64
	var worked [7]float64
	weekend := false
	for _, d := range days {
		at := d.at.In(e.site.Location)
		worked[at.Weekday()] += d.hours
		sum += d.hours
		square += d.hours * d.hours
		weekend = weekend || at.Weekday() == time.Saturday || at.Weekday() == time.Sunday
	}
	n := float64(len(days))
	mean := sum / n
	if !(mean > 0) {
		return w, false
	}
	first, last := days[0].at.In(e.site.Location), days[len(days)-1].at.In(e.site.Location)
	var seen [7]float64
	for at := first; !at.After(last.Add(time.Hour)); at = at.AddDate(0, 0, 1) {
		seen[at.Weekday()]++
	}
	for k := range w.hours {
		// a day of the week that has not been seen is thought to be one of work, unless it is a weekend and none was worked
		guess := mean
		if (k == int(time.Saturday) || k == int(time.Sunday)) && !weekend && len(days) >= 5 {
			guess = 0
		}
		w.hours[k] = (worked[k] + guess/2) / (max(seen[k], worked[k]/(2*mean)) + 0.5)
	}
	sd := math.Sqrt(max(square/n-mean*mean, 0))
	w.spread = (sd/mean + 0.15) / math.Sqrt(n)
	return w, true
}

// farDays is how far ahead a date is named.
const farDays = 3650

// after returns when the fan will have run for a number of hours more, after the work of a day is done. The work of a
// day is taken to end when it did today.
func (w *fanWeek) after(done time.Time, hours float64) time.Time {
	if hours <= 0 {
		return done
	}
	for k := 1; k <= farDays; k++ {
		at := done.AddDate(0, 0, k)
		h := w.hours[at.Weekday()]
		if hours <= h && h > 0 {
			left := time.Duration((h - hours) * float64(time.Hour))
			midnight := time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute
			return at.Add(-min(left, midnight))
		}
		hours -= h
	}
	return done.AddDate(0, 0, farDays)
}

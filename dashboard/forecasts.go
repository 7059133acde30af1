package dashboard

import (
	"fmt"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// ahead is how long before the end of a filter's way from one cleaning to the next its forecast is held against what
// happened: ten working days. A way that was shorter is judged by its first forecast.
const ahead = 14 * 24 * time.Hour

// pastForecast is a date for a cleaning that was told, and what became of it.
type pastForecast struct {
	told  time.Time // noon of the day
	due   estimate.Due
	end   time.Time      // when the filter came to the resistance that was meant, or was cleaned before
	came  bool           // it came to it
	ratio estimate.Value // resistance then; NaN where it is not known
}

// outcome is how a forecast went.
type outcome string

// The outcomes. A filter that was cleaned before its first day says nothing of the forecast.
const (
	heldTrue  outcome = "held"
	tooLate   outcome = "came sooner"
	tooEarly  outcome = "came later"
	notJudged outcome = "cleaned before"
)

// outcome judges a forecast by the days between which it was told.
func (f *pastForecast) outcome() outcome {
	switch {
	case f.came && f.end.Before(f.due.Low.Add(-halfDay)):
		return tooLate
	case f.end.After(f.due.High.Add(halfDay)):
		return tooEarly
	case f.came:
		return heldTrue
	}
	return notJudged
}

// halfDay is how far a day's noon is from its ends: a forecast is told by the day.
const halfDay = 12 * time.Hour

// pastForecasts are those of each way from one cleaning to the next that has ended, oldest first. The day of a cleaning belongs
// to no way, since its resistance is a mean of both.
func (s *server) pastForecasts(c *watch.Collector, washed []cleaning) (out []pastForecast) {
	var way []*estimate.Day // since the last cleaning
	next := 0
	for i := range c.Days {
		d := &c.Days[i]
		if _, ok := s.dayTime(d.Date); !ok {
			continue
		}
		last := ""
		for next < len(washed) && s.local(washed[next].at).Format(time.DateOnly) <= d.Date {
			last = s.local(washed[next].at).Format(time.DateOnly)
			out = s.endWay(out, way, washed[next].at)
			way, next = nil, next+1
		}
		if d.Date != last {
			way = append(way, d)
		}
	}
	if next < len(washed) {
		return s.endWay(out, way, washed[next].at)
	}
	return s.endWay(out, way, time.Time{})
}

// endWay adds the forecast of one way, where there was one. The filter came to the resistance that was meant on the first day
// whose mean cannot be told from it. A way that has not ended by a cleaning (its moment is zero) has
// ended if the filter came to the resistance that was meant.
func (s *server) endWay(out []pastForecast, way []*estimate.Day, cleaned time.Time) []pastForecast {
	f := pastForecast{end: cleaned}
	for _, d := range way {
		at, _ := s.dayTime(d.Date)
		if d.Due != nil && d.Due.Ratio > 0 && d.FilterRatio.V+ninety*zeroIfUnknown(d.FilterRatio.SE) >= d.Due.Ratio {
			f.end, f.came, f.ratio = at, true, d.FilterRatio
			break
		}
		if known(d.FilterRatio.V) {
			f.ratio = d.FilterRatio
		}
	}
	if f.end.IsZero() {
		return out
	}
	found := false
	for _, d := range way {
		at, _ := s.dayTime(d.Date)
		if d.Due == nil || d.Due.Date.IsZero() || at.After(f.end.Add(-halfDay)) || found && at.After(f.end.Add(-ahead)) {
			continue
		}
		f.told, f.due, found = at, *d.Due, true
	}
	if !found {
		return out
	}
	return append(out, f)
}

// forecastRow is one past forecast in words.
type forecastRow struct{ Told, Between, Happened, Held string }

// forecastRows are the past forecasts in words, newest first, and what they come to.
func (s *server) forecastRows(list []pastForecast, now time.Time) (rows []forecastRow, sentence string) {
	held, judged := 0, 0
	for i := len(list) - 1; i >= 0; i-- {
		f := &list[i]
		rows = append(rows, s.forecastRow(f, now))
		if o := f.outcome(); o != notJudged {
			judged++
			if o == heldTrue {
				held++
			}
		}
	}
	switch {
	case len(list) == 0:
		return nil, "No forecast has come to its end yet."
	case judged == 0:
		return rows, "Each time the filter was cleaned before it had to be, so that none of them can be judged."
	}
	return rows, fmt.Sprintf("Of %s that can be judged, %d held; the days that are told are meant to hold the true one %s.",
		count(judged, "forecast"), held, oddsText(list[len(list)-1].due.Confidence))
}

func (s *server) forecastRow(f *pastForecast, now time.Time) forecastRow {
	r := forecastRow{Told: s.day(f.told, now), Between: s.interval(f.due.Low, f.due.High, now)}
	at := ", at " + percent(f.ratio) + " of the baseline"
	if !known(f.ratio.V) {
		at = ""
	}
	if f.came {
		r.Happened = "it had to be, " + s.day(f.end, now) + at
	} else {
		r.Happened = "cleaned " + s.day(f.end, now) + at + "; to be cleaned at " + fixed(100*f.due.Ratio, 0) + "\u00a0%"
	}
	r.Held = map[outcome]string{heldTrue: "yes", tooLate: "no: sooner than told", tooEarly: "no: later than told", notJudged: "cannot tell: cleaned before it had to be"}[f.outcome()]
	return r
}

package dashboard

import (
	"strings"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// dueSentence says when the filter must be cleaned.
func (s *server) dueSentence(c *watch.Collector, now time.Time) []string {
	d := lastDue(c)
	switch {
	case d == nil:
		return nil
	case d.High.Before(now):
		return []string{"Clean the filter: it was due by " + s.day(d.High, now) + "."}
	case d.Low.After(now.AddDate(0, 0, 60)):
		return []string{"The filter needs no cleaning before " + s.day(d.Low, now) + "."}
	case d.Low.Before(now):
		return []string{"Clean the filter by " + s.day(d.High, now) + "."}
	}
	return []string{"Clean the filter " + s.interval(d.Low, d.High, now) + "."}
}

// lastDue is the newest forecast, or nil.
func lastDue(c *watch.Collector) *estimate.Due {
	for i := len(c.Days) - 1; i >= 0; i-- {
		if c.Days[i].Due != nil {
			return c.Days[i].Due
		}
	}
	return nil
}

// lastDay is the newest day, or nil.
func lastDay(c *watch.Collector) *estimate.Day {
	if len(c.Days) == 0 {
		return nil
	}
	return &c.Days[len(c.Days)-1]
}

// dueReason says why it must be cleaned then, and how sure the date is.
func (s *server) dueReason(d *estimate.Due, now time.Time) string {
	why := "its own limit of pressure drop comes first"
	if machine, ok := strings.CutPrefix(d.Reason, "air-short:"); ok {
		why = "from then on " + machine + " would no longer have the air it needs; the filter’s own limit comes later"
	}
	text := "Most likely on " + s.day(d.Date, now) + ": " + why + "."
	if d.Confidence > 0 && d.Confidence < 1 {
		text += " The span of days is meant to hold the true one " + oddsText(d.Confidence) + "."
	}
	return text
}

// dueShort is the forecast in the fewest words: "clean 26 Nov to 1 Dec".
func (s *server) dueShort(d *estimate.Due, now time.Time) string {
	if d.High.Before(now) {
		return "cleaning overdue"
	}
	low, high := s.local(d.Low), s.local(d.High)
	if d.Low.Before(now) {
		return "clean by " + high.Format("2 Jan")
	}
	return "clean " + low.Format("2 Jan") + " to " + high.Format("2 Jan")
}

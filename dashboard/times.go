package dashboard

import (
	"fmt"
	"math"
	"time"
)

// local moves a time to the shop's own zone: the only place where that happens.
func (s *server) local(t time.Time) time.Time {
	if s.Shop.Site.Location == nil {
		return t.UTC()
	}
	return t.In(s.Shop.Site.Location)
}

// clockTime is a moment to the second: "Wednesday 25 November 2026, 08:20:46".
func (s *server) clockTime(t time.Time) string {
	if t.IsZero() {
		return "at an unknown time"
	}
	return s.local(t).Format("Monday 2 January 2006, 15:04:05")
}

// moment is a time as people say it, as seen from now: "today 14:05", "yesterday 08:10", "Friday 13 November 16:40",
// "13 March 2025".
func (s *server) moment(t, now time.Time) string {
	if t.IsZero() {
		return "not known"
	}
	l, n := s.local(t), s.local(now)
	switch d := dayNumber(n) - dayNumber(l); {
	case d == 0:
		return "today " + l.Format("15:04")
	case d == 1:
		return "yesterday " + l.Format("15:04")
	case d > 1 && d < 7 || d < 0 && d > -7:
		return l.Format("Monday 2 January 15:04")
	}
	return s.day(t, now)
}

// day is a date as people say it: "today", "tomorrow", "Thursday 26 November", "14 March", "14 March 2025".
func (s *server) day(t, now time.Time) string {
	if t.IsZero() {
		return "not known"
	}
	l, n := s.local(t), s.local(now)
	switch d := dayNumber(l) - dayNumber(n); {
	case d == 0:
		return "today"
	case d == 1:
		return "tomorrow"
	case d == -1:
		return "yesterday"
	case d > -7 && d < 14:
		return l.Format("Monday 2 January")
	case l.Year() == n.Year():
		return l.Format("2 January")
	}
	return l.Format("2 January 2006")
}

// dayNumber counts civil days, so that a day of 23 or 25 hours is still one.
func dayNumber(t time.Time) int {
	y, m, d := t.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// interval is a span of days in words: "between Thursday 26 November and Tuesday 1 December", "today".
func (s *server) interval(low, high, now time.Time) string {
	a, b := s.day(low, now), s.day(high, now)
	if a == b {
		return a
	}
	return "between " + a + " and " + b
}

// age is how long ago something was, in the largest unit that fits: "4 s", "12 min", "3 h", "5 days".
func age(d time.Duration) string {
	switch {
	case d < 0:
		return "0 s"
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", int(d.Hours()))
	}
	return fmt.Sprintf("%d days", int(math.Round(d.Hours()/24)))
}

package dashboard

import (
	"html/template"
	"math"
	"net/url"
	"time"

	"ductward/dashboard/plot"
	"ductward/internal/estimate"
)

// chartPart is one chart on a page: its question, one sentence, the address of its options for the script, a still
// picture, and a table of the same numbers.
type chartPart struct {
	Title, Sentence, URL, Empty, CSV string
	Zoom                             string // address for a span chosen in the chart; "": none can be
	Still                            template.HTML
	Head                             []string
	Rows                             [][]string
}

// location is the shop's zone.
func (s *server) location() *time.Location { return s.local(time.Time{}).Location() }

// dayTime is noon of a civil day, where its value is drawn.
func (s *server) dayTime(date string) (time.Time, bool) {
	t, err := time.ParseInLocation(time.DateOnly, date, s.location())
	return t.Add(12 * time.Hour), err == nil
}

// dateText is a civil day in words.
func (s *server) dateText(date string) string {
	t, ok := s.dayTime(date)
	if !ok {
		return "on a day whose date is not known"
	}
	return t.Format("Mon 2 Jan 2006")
}

// maxBridge is the longest pause, in days, over which a line of daily values goes on: a weekend with a holiday. A longer
// one is a gap.
const maxBridge = 5

// dayLine makes a line of one value a day, with its 90 % band, in the unit that is shown.
func (s *server) dayLine(name string, days []estimate.Day, pick func(*estimate.Day) estimate.Value, factor float64, unit string) plot.Line {
	l := plot.Line{Name: name, Tone: plot.Air, Band: plot.Spread}
	var before time.Time
	version := 0 // of the baseline: what was told against another one is another line
	for i := range days {
		at, ok := s.dayTime(days[i].Date)
		v := pick(&days[i])
		if !ok || !known(v.V) {
			continue
		}
		other := version != days[i].Baseline
		version = days[i].Baseline
		if !before.IsZero() && (other || at.Sub(before) > maxBridge*24*time.Hour) {
			l.Points = append(l.Points, plot.Point{At: before.Add(at.Sub(before) / 2), V: math.NaN()})
		}
		before = at
		half := ninety * v.SE * factor
		d := decimals(v.SE * factor)
		if !known(half) {
			half = 0
		}
		l.Points = append(l.Points, plot.Point{At: at, V: roundTo(v.V*factor, d), Lo: roundTo(v.V*factor-half, d+1),
			Hi: roundTo(v.V*factor+half, d+1), Text: spread(v.V, v.SE, factor, unit)})
	}
	return l
}

// spanOf makes a chart reach from the first day to now.
func (s *server) spanOf(ch *plot.Chart, days []estimate.Day, now time.Time) {
	l := s.local(now)
	ch.To = time.Date(l.Year(), l.Month(), l.Day()+1, 0, 0, 0, 0, l.Location())
	ch.From = ch.To.AddDate(0, -1, 0)
	for i := range days {
		if t, ok := s.dayTime(days[i].Date); ok {
			ch.From = t.AddDate(0, 0, -3)
			break
		}
	}
	if ch.To.Sub(ch.From) < 7*24*time.Hour {
		ch.From = ch.To.AddDate(0, 0, -7)
	}
}

// plainOr is a number with its unit, or "not known".
func plainOr(v float64, unit string) string {
	if !known(v) {
		return unknown
	}
	return join(plain(v), unit)
}

// queryEscape makes a name fit for a query.
func queryEscape(name string) string { return url.QueryEscape(name) }

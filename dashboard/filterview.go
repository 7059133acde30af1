package dashboard

import (
	"fmt"
	"math"
	"strings"
	"time"

	"ductward/dashboard/draw"
	"ductward/dashboard/plot"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

// filterBody is the content of the filter page.
type filterBody struct {
	Sentence string
	Parts    []filterPart
}

// filterPart is one collector's filter.
type filterPart struct {
	Name      string
	Sentence  string
	Reason    string
	Chart     chartPart
	Cleanings []cleaningRow
	Forecasts []forecastRow // past ones, newest first
	Judged    string        // what they come to
	Cautions  []string
}

// filterView tells how loaded the filter is, and when it must be cleaned.
func (s *server) filterView(rq *request) (any, error) {
	b := filterBody{Sentence: "Nothing is known of the filter yet."}
	if rq.snap == nil {
		return b, nil
	}
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	var lead []string
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		p := filterPart{Sentence: s.filterSentence(c, rq.now), Chart: s.filterPart(rq, c, entries), Cautions: cautions(finding.FilterDue)}
		if d := lastDue(c); d != nil {
			p.Reason = s.dueReason(d, rq.now)
		}
		if len(s.Shop.Collectors) > 1 {
			p.Name = c.Name
			lead = append(lead, c.Name+": "+p.Sentence)
		} else {
			lead = append(lead, p.Sentence)
		}
		washed := cleanings(c, entries)
		for _, w := range washed {
			p.Cleanings = append(p.Cleanings, s.cleaningRow(w, c, rq.now))
		}
		p.Forecasts, p.Judged = s.forecastRows(s.pastForecasts(c, washed), rq.now)
		b.Parts = append(b.Parts, p)
	}
	b.Sentence = strings.Join(lead, " ")
	return b, nil
}

// filterSentence says how the filter stands.
func (s *server) filterSentence(c *watch.Collector, now time.Time) string {
	day := lastDay(c)
	if day == nil || !known(day.FilterRatio.V) {
		return "How loaded the filter is cannot be told yet. " + strings.Join(s.dueSentence(c, now), " ")
	}
	text := "The filter resists " + rounded(day.FilterRatio, 100) + "\u00a0% of what it did at the baseline. "
	if due := s.dueSentence(c, now); len(due) > 0 {
		return text + strings.Join(due, " ")
	}
	return text + "There is no date for its cleaning yet."
}

// filterPart is the chart of resistance over time with its table.
func (s *server) filterPart(rq *request, c *watch.Collector, entries []journal.Entry) chartPart {
	ch := s.filterChart(rq, c, entries)
	p := chartPart{Title: ch.Title, URL: "/charts/filter?c=" + queryEscape(c.Name), Head: []string{"Day", "Resistance, % of baseline", "Fan hours", "Closed checks"}}
	p.Sentence = "Corrected for flow and for the air’s viscosity. The doubled edge holds the true value nine times in ten."
	for i := len(c.Days) - 1; i >= 0; i-- {
		d := &c.Days[i]
		p.Rows = append(p.Rows, []string{s.dateText(d.Date), percent(d.FilterRatio), plainOr(d.FanHours, "h"), fmt.Sprint(d.ClosedChecks)})
	}
	if ch.Empty() {
		p.Empty = "No day has been measured yet. The line starts with the first day on which the fan has run with a gate open."
		return p
	}
	p.Still = ch.Still()
	return p
}

// filterChart draws the resistance ratio of each day, what is expected, and the cleanings.
func (s *server) filterChart(rq *request, c *watch.Collector, entries []journal.Entry) *plot.Chart {
	ch := &plot.Chart{Title: "How hard does the air get through the filter?", Unit: "% of baseline", Location: s.location(), Zero: false}
	line := s.dayLine("Resistance", c.Days, func(d *estimate.Day) estimate.Value { return d.FilterRatio }, 100, "%")
	s.spanOf(ch, c.Days, rq.now)
	ch.Lines = []plot.Line{line}
	for _, w := range cleanings(c, entries) {
		ch.Events = append(ch.Events, plot.Event{At: w.at, Text: w.word()})
	}
	d, day := lastDue(c), lastDay(c)
	if d == nil || day == nil || d.Ratio <= 0 || d.Date.IsZero() {
		return ch
	}
	ch.Marks = append(ch.Marks, plot.Mark{V: roundTo(d.Ratio*100, 0), Text: "to be cleaned", Tone: plot.Plan})
	last, ok := lastPoint(line.Points)
	if ok && d.High.After(last.At) && d.High.Before(last.At.AddDate(1, 0, 0)) {
		ch.Lines = append(ch.Lines, expected(last, d))
		ch.To = d.High.AddDate(0, 0, 3)
	}
	return ch
}

// expected is the dotted way from the last value to the mark, as early and as late as the forecast says.
func expected(last plot.Point, d *estimate.Due) plot.Line {
	level := roundTo(d.Ratio*100, 0)
	l := plot.Line{Name: "Expected", Tone: plot.Ink, Dotted: true, Points: []plot.Point{{At: last.At, V: last.V}}}
	if d.Date.After(last.At) {
		l.Points = append(l.Points, plot.Point{At: d.Date, V: level, Text: "most likely date"})
	}
	l.Points = append(l.Points, plot.Point{At: d.High, V: math.NaN()}, plot.Point{At: maxTime(d.Low, last.At), V: level}, plot.Point{At: d.High, V: level})
	return l
}

// lastPoint is the last value that is known.
func lastPoint(points []plot.Point) (plot.Point, bool) {
	for i := len(points) - 1; i >= 0; i-- {
		if known(points[i].V) {
			return points[i], true
		}
	}
	return plot.Point{}, false
}

// maxTime is the later of two times.
func maxTime(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// filterPicture is the comb of the drawing.
func (s *server) filterPicture(c *watch.Collector, now time.Time) draw.Filter {
	nan := math.NaN()
	f := draw.Filter{Now: nan, Low: nan, High: nan, Due: nan, Emptied: nan, Words: "filter: cannot tell"}
	v := c.Now.Filter
	if day := lastDay(c); day != nil && !known(v.V) {
		v = day.FilterRatio
	}
	if known(v.V) {
		f.Now, f.Low, f.High = v.V, v.V-ninety*v.SE, v.V+ninety*v.SE
		f.Words = "filter " + fixed(v.V*100, 0) + "\u00a0% of baseline"
	}
	if d := lastDue(c); d != nil {
		if d.Ratio > 0 {
			f.Due = d.Ratio
		}
		f.Words += "\n" + s.dueShort(d, now)
	}
	if list := cleanings(c, nil); len(list) > 0 {
		if _, after := s.around(list[len(list)-1], c); after != nil {
			f.Emptied = after.FilterRatio.V
		}
	}
	return f
}

package dashboard

import (
	"fmt"
	"sort"
	"strings"

	"ductward/dashboard/plot"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

// leaksBody is the content of the leaks page.
type leaksBody struct {
	Sentence string
	Parts    []leaksPart
}

// leaksPart is one collector's leakage.
type leaksPart struct {
	Name     string
	Sentence string
	Area     string
	Share    string
	Chart    chartPart
	Places   []chartPart // by place, over time
	Zones    []zoneRow
	Drawing  drawing
	Asking   []findingCard
	Cautions []string
	Lacks    []string
	Hunt     bool // a test would tell more of where it is
}

// zoneRow is one place where the new leakage may be.
type zoneRow struct {
	placeLine
	Leak, Area string
	Bar        float64 // length of its bar, of 100
}

// leaksView tells how much air leaks in that did not at the baseline, and where that may be.
func (s *server) leaksView(rq *request) (any, error) {
	b := leaksBody{Sentence: "Nothing is known of leaks yet."}
	if rq.snap == nil {
		return b, nil
	}
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	latest := s.Readings.Latest()
	var lead []string
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		p := s.leaksPart(rq, c, entries)
		p.Drawing = s.draw(rq, c, s.stateOf(rq, c, latest), fmt.Sprint("l", i))
		lead = append(lead, p.Sentence)
		if len(s.Shop.Collectors) > 1 {
			p.Name = c.Name
			lead[i] = c.Name + ": " + lead[i]
		}
		b.Parts = append(b.Parts, p)
	}
	b.Sentence = strings.Join(lead, " ")
	return b, nil
}

// leaksPart puts one collector's leakage into words.
func (s *server) leaksPart(rq *request, c *watch.Collector, entries []journal.Entry) leaksPart {
	p := leaksPart{Chart: s.leaksChartPart(rq, c, entries), Places: s.placeCharts(rq, c), Cautions: cautions(finding.NewLeak), Lacks: c.Lacks,
		Hunt: c.NextTest != nil && len(c.NextTest.Tests) > 0}
	held := s.held()
	p.Asking = s.cards(rq, func(f *finding.Finding) bool { return held.asks(f) && f.Collector == c.Name && isLeak(f.Kind) })
	day := lastDay(c)
	if day == nil || !known(day.Leakage.V) {
		p.Sentence = "How much leaks in cannot be told yet."
		if !c.Baseline.Complete {
			p.Sentence += " " + lacksBaseline(c.Baseline)
		}
		return p
	}
	p.Sentence = s.leakSentence(day.Leakage, rq.snap.ReferenceSuction)
	p.Area = s.areaText(day.Leakage, rq.snap.ReferenceSuction)
	if known(day.Flow.V) && day.Flow.V > 0 {
		p.Share = spread(day.Leakage.V/day.Flow.V, day.Leakage.SE/day.Flow.V, 100, "%") + " of the air that the fan moves"
	}
	for _, z := range day.Zones {
		p.Zones = append(p.Zones, zoneRow{placeLine: newPlaceLine(z.Place), Leak: s.flowText(z.Leakage),
			Area: s.areaText(z.Leakage, rq.snap.ReferenceSuction), Bar: 100 * min(1, max(0, zeroIfUnknown(z.Probability)))})
	}
	sort.SliceStable(p.Zones, func(i, j int) bool { return p.Zones[i].Share > p.Zones[j].Share })
	return p
}

// isLeak tells whether a kind is about air that comes in.
func isLeak(k finding.Kind) bool {
	return k == finding.NewLeak || k == finding.GrowingLeak || k == finding.GateLeaks || k == finding.LeakMended
}

// leakSentence says how much, and whether it is more than nothing.
func (s units) leakSentence(q estimate.Value, suction float64) string {
	half := ninety * zeroIfUnknown(q.SE)
	at := " at " + s.pressureText(suction) + " of suction"
	if q.V-half <= 0 {
		return "No new leakage can be told from none: at most " + join(fixed((q.V+half)*s.flow.factor, decimals(half*s.flow.factor)), s.flow.unit) + at + "."
	}
	return capital(s.flowText(q)) + at + " leak in that did not at the baseline."
}

// leaksChartPart is the chart of leakage over time with its table.
func (s *server) leaksChartPart(rq *request, c *watch.Collector, entries []journal.Entry) chartPart {
	ch := s.leaksChart(rq, c, entries)
	p := chartPart{Title: ch.Title, URL: "/charts/leaks?c=" + queryEscape(c.Name), Head: []string{"Day", "New leakage", "Closed checks", "Fan hours"}}
	p.Sentence = "New since the baseline. The doubled edge holds the true value nine times in ten; it is narrow on days with a stretch of every gate shut."
	for i := len(c.Days) - 1; i >= 0; i-- {
		d := &c.Days[i]
		p.Rows = append(p.Rows, []string{s.dateText(d.Date), s.flowText(d.Leakage), fmt.Sprint(d.ClosedChecks), plainOr(d.FanHours, "h")})
	}
	if ch.Empty() {
		p.Empty = "No day has been measured yet. The line starts with the first day after the baseline is complete."
		return p
	}
	p.Still = ch.Still()
	return p
}

// leaksChart draws each day's new leakage, and what was done or found about it.
func (s *server) leaksChart(rq *request, c *watch.Collector, entries []journal.Entry) *plot.Chart {
	ch := &plot.Chart{Title: "How much air leaks in at " + s.pressureText(rq.snap.ReferenceSuction) + "?", Unit: s.flow.unit,
		Location: s.location(), Zero: true}
	ch.Lines = []plot.Line{s.dayLine("New leakage", c.Days, func(d *estimate.Day) estimate.Value { return d.Leakage }, s.flow.factor, s.flow.unit)}
	s.spanOf(ch, c.Days, rq.now)
	for i := range c.Findings {
		if f := &c.Findings[i]; isLeak(f.Kind) && !f.Onset.IsZero() {
			ch.Events = append(ch.Events, plot.Event{At: f.Onset, Text: lowerFirst(kindTitle(f.Kind))})
		}
	}
	for _, e := range entries {
		switch e.Kind {
		case journal.Sealed, journal.GateReplaced, journal.HoseChanged, journal.DuctChanged, journal.Baseline, journal.BaselineRejected, journal.BaselineRestored:
			ch.Events = append(ch.Events, plot.Event{At: e.Time, Text: strings.TrimSpace(lowerFirst(entryTitle(e.Kind)) + " " + e.Subject)})
		}
	}
	sort.SliceStable(ch.Events, func(i, j int) bool { return ch.Events[i].At.Before(ch.Events[j].At) })
	return ch
}

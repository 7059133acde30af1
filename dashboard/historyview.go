package dashboard

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"ductward/dashboard/plot"
	"ductward/internal/finding"
	"ductward/internal/watch"
)

const (
	defaultBuckets = 400  // about one for every two dots of a laptop's screen
	maxBuckets     = 5000 // what one request may ask for
	maxChannels    = 8    // charts on one page
)

// formTime is how a browser writes a moment in a form, and exactTime how it does to the second.
const (
	formTime  = "2006-01-02T15:04"
	exactTime = "2006-01-02T15:04:05"
)

// historyBody is the content of the history page.
type historyBody struct {
	Sentence string
	From, To string // for the form
	Choices  []choice
	Links    []navItem
	Moves    []navItem
	CSV      string
	Charts   []chartPart
	Events   []eventLine
	Problem  string
}

// eventLine is one event of the span in words.
type eventLine struct{ At, Text string }

// choice is one channel of the form.
type choice struct {
	Name, Words string
	On          bool
}

// historyView shows any channels over any span.
func (s *server) historyView(rq *request) (any, error) {
	v, err := s.readSpan(rq.Request, rq.now)
	b := historyBody{From: s.local(v.from).Format(exactTime), To: s.local(v.to).Format(exactTime)}
	on := map[string]bool{}
	for _, c := range v.channels {
		on[c.Name] = true
	}
	for _, c := range s.channels() {
		b.Choices = append(b.Choices, choice{c.Name, c.words, on[c.Name]})
	}
	for _, p := range presets {
		b.Links = append(b.Links, navItem{Href: "/history?" + s.spanQuery(span{v.channels, rq.now.Add(-p.d), rq.now}), Name: "last " + p.Name})
	}
	if err != nil {
		b.Problem = err.Error()
		b.Sentence = "This span cannot be shown."
		return b, nil
	}
	b.Moves, b.CSV = s.moves(v, rq.now), "/history.csv?"+s.spanQuery(v)
	b.Sentence = "From " + s.moment(v.from, rq.now) + " to " + s.moment(v.to, rq.now) + ", as it was read."
	events, err := s.events(v, rq.snap)
	if err != nil {
		return nil, err
	}
	for _, e := range events {
		b.Events = append(b.Events, eventLine{s.moment(e.At, rq.now), capital(e.Text)})
	}
	for _, c := range v.channels {
		p, err := s.channelPart(c, v, events)
		if err != nil {
			return nil, err
		}
		b.Charts = append(b.Charts, p)
	}
	return b, nil
}

// channelPart is one channel's chart with its table.
func (s *server) channelPart(c channel, v span, events []plot.Event) (chartPart, error) {
	one := span{[]channel{c}, v.from, v.to}
	ch, buckets, err := s.channelChart(c, v, events)
	if err != nil {
		return chartPart{}, err
	}
	p := chartPart{Title: ch.Title, URL: "/charts/channel?" + s.spanQuery(one), CSV: "/history.csv?" + s.spanQuery(one), Zoom: s.zoomBase(v),
		Head: []string{"From", "Least", "Mean", "Most", "Readings"}}
	if ch.Empty() {
		p.Empty = "There is no reading in this span."
		return p, nil
	}
	p.Still = ch.Still()
	step := max(1, len(buckets)/100) // the table tells the course; the CSV has every bucket
	low, high, n := math.Inf(1), math.Inf(-1), 0
	for i, b := range buckets {
		if b.N == 0 {
			continue
		}
		low, high, n = min(low, b.Min), max(high, b.Max), n+b.N
		if i%step == 0 {
			p.Rows = append(p.Rows, []string{s.local(b.Start).Format("2 Jan 2006 15:04:05"), c.show(b.Min), c.show(b.Mean), c.show(b.Max), strconv.Itoa(b.N)})
		}
	}
	p.Sentence = fmt.Sprintf("%s, from %s to %s.", capital(fixed(float64(n), 0)+plural(n, " reading", " readings")), c.show(low), c.show(high))
	if c.si == "1" && c.unit == "" {
		p.Sentence = "1 is open or on, 0 is shut or off."
	}
	return p, nil
}

// channelChart draws what one channel read.
func (s *server) channelChart(c channel, v span, events []plot.Event) (*plot.Chart, []Bucket, error) {
	buckets, err := s.Readings.Chart(c.Name, v.from, v.to, bucketsFor(c, v))
	if err != nil {
		return nil, nil, fmt.Errorf("record of %q: %w", c.Name, err)
	}
	isSwitch := c.measure == switchMeasure
	l := plot.Line{Name: c.Name, Tone: plot.Air, Band: plot.Range, Step: isSwitch}
	if isSwitch {
		l.Band = plot.NoBand
	}
	l.Points = points(c, buckets)
	if isSwitch {
		if l.Points, err = s.holdOn(c, v, buckets, l.Points); err != nil {
			return nil, nil, err
		}
	}
	ch := &plot.Chart{Title: "What did " + c.Name + " read?", Unit: c.unit, From: v.from, To: v.to, Location: s.location(),
		Lines: []plot.Line{l}, Events: events, Zero: isSwitch, One: isSwitch}
	if isSwitch {
		ch.Title = "When was " + c.Name + " open or on?"
	}
	return ch, buckets, nil
}

// events are what people wrote down within a span, and what the tool noticed in it.
func (s *server) events(v span, snap *watch.Snapshot) ([]plot.Event, error) {
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	var out []plot.Event
	add := func(at time.Time, text string) {
		if !at.Before(v.from) && !at.After(v.to) {
			out = append(out, plot.Event{At: at, Text: lowerFirst(text)})
		}
	}
	for _, e := range entries {
		add(e.Time, entryTitle(e.Kind))
	}
	if snap != nil {
		for i := range snap.Collectors {
			for _, f := range snap.Collectors[i].Findings {
				if f.Priority != finding.Journal || f.Kind == finding.FilterCleaned {
					add(f.Raised, kindTitle(f.Kind))
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b plot.Event) int { return a.At.Compare(b.At) })
	return out, nil
}

// shown is a value in the unit that is shown, to a tenth of a thousandth of what a chart can resolve.
func (c channel) shown(v float64) float64 {
	x := v*c.factor + c.offset
	if x == 0 || !known(x) {
		return x
	}
	return roundTo(x, 5-int(math.Ceil(math.Log10(math.Abs(x)))))
}

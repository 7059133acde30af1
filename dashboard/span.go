package dashboard

import (
	"fmt"
	"net/http"
	"net/url"
	"time"
)

// span is what the history page shows: channels, from, to.
type span struct {
	channels []channel
	from, to time.Time
}

// presets are the spans that one tap chooses.
var presets = []struct {
	Name string
	d    time.Duration
}{
	{"minute", time.Minute}, {"10 minutes", 10 * time.Minute}, {"hour", time.Hour}, {"day", 24 * time.Hour}, {"week", 7 * 24 * time.Hour},
	{"month", 30 * 24 * time.Hour}, {"year", 365 * 24 * time.Hour},
}

// readSpan takes the span from the query; without one it is the last day of the first two sensors.
func (s *server) readSpan(r *http.Request, now time.Time) (span, error) {
	q := r.URL.Query()
	v := span{to: now, from: now.Add(-24 * time.Hour)}
	for _, name := range q["ch"] {
		c, ok := s.channel(name)
		if !ok {
			return v, fmt.Errorf("channel %q is not in the shop file: choose one of the list", name)
		}
		v.channels = append(v.channels, c)
	}
	if len(v.channels) > maxChannels {
		return v, fmt.Errorf("%d channels are more than the %d that one page can show: choose fewer", len(v.channels), maxChannels)
	}
	if len(v.channels) == 0 {
		all := s.channels()
		v.channels = all[:min(2, len(all))]
	}
	var err error
	if v.from, err = s.formMoment(q.Get("from"), v.from); err != nil {
		return v, err
	}
	if v.to, err = s.formMoment(q.Get("to"), v.to); err != nil {
		return v, err
	}
	if !v.from.Before(v.to) {
		return v, fmt.Errorf("the span ends (%s) before it begins (%s): turn the two round", s.clockTime(v.to), s.clockTime(v.from))
	}
	return v, nil
}

// formMoment reads a local time, or RFC 3339; empty gives the other.
func (s *server) formMoment(text string, other time.Time) (time.Time, error) {
	if text == "" {
		return other, nil
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	t, err := time.ParseInLocation(exactTime, text, s.location())
	if err != nil {
		t, err = time.ParseInLocation(formTime, text, s.location())
	}
	if err != nil {
		return other, fmt.Errorf("%q is not a time: write it as 2026-03-14T08:30", text)
	}
	return t, nil
}

// spanQuery is the span as a query, so that every view has an address of its own.
func (s *server) spanQuery(v span) string {
	q := url.Values{"from": {v.from.UTC().Format(time.RFC3339)}, "to": {v.to.UTC().Format(time.RFC3339)}}
	for _, c := range v.channels {
		q.Add("ch", c.Name)
	}
	return q.Encode()
}

// moves are the steps in time that need no dragging.
func (s *server) moves(v span, now time.Time) []navItem {
	d := v.to.Sub(v.from)
	link := func(name string, from, to time.Time) navItem {
		return navItem{Href: "/history?" + s.spanQuery(span{v.channels, from, to}), Name: name}
	}
	out := []navItem{link("earlier", v.from.Add(-d), v.to.Add(-d))}
	if v.to.Before(now) {
		out = append(out, link("later", v.from.Add(d), v.to.Add(d)))
	}
	if d > 4*shortest {
		out = append(out, link("closer", v.from.Add(d/4), v.to.Add(-d/4)))
	}
	return append(out, link("wider", v.from.Add(-d/2), v.to.Add(d/2)))
}

package dashboard

import (
	"math"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

// cleaningRow is what one cleaning recovered.
type cleaningRow struct{ When, Before, After, Recovered, Told string }

// cleaning is one cleaning or replacement of the filter, noticed or written down or both.
type cleaning struct {
	at       time.Time
	since    time.Time // the last run before it; zero: not known
	noticed  bool
	by       string // who wrote it down
	replaced bool
}

// word is what stands at its tick.
func (w cleaning) word() string {
	if w.replaced {
		return "replaced"
	}
	return "cleaned"
}

// cleanings joins what the tool noticed with what people wrote meanwhile, or a day and a half before or after.
func cleanings(c *watch.Collector, entries []journal.Entry) []cleaning {
	var out []cleaning
	for i := range c.Findings {
		f := &c.Findings[i]
		if f.Kind == finding.FilterCleaned {
			at := f.Onset
			if at.IsZero() {
				at = f.Raised
			}
			out = append(out, cleaning{at: at, since: f.OnsetLow, noticed: true})
		}
	}
	for _, e := range entries {
		if e.Kind != journal.FilterCleaned && e.Kind != journal.FilterReplaced || e.Subject != "" && e.Subject != c.Name {
			continue
		}
		out = mergeCleaning(out, e)
	}
	return out
}

// mergeCleaning adds a written line to the cleaning that it tells of, or as one of its own.
func mergeCleaning(list []cleaning, e journal.Entry) []cleaning {
	for i := range list {
		from := list[i].at
		if s := list[i].since; !s.IsZero() && s.Before(from) {
			from = s
		}
		if from.Sub(e.Time) < 36*time.Hour && e.Time.Sub(list[i].at) < 36*time.Hour {
			list[i].by, list[i].replaced = e.By, e.Kind == journal.FilterReplaced
			return list
		}
	}
	list = append(list, cleaning{at: e.Time, by: e.By, replaced: e.Kind == journal.FilterReplaced})
	for i := len(list) - 1; i > 0 && list[i].at.Before(list[i-1].at); i-- {
		list[i], list[i-1] = list[i-1], list[i]
	}
	return list
}

// around returns the last day before a cleaning and the first after it.
func (s *server) around(w cleaning, c *watch.Collector) (before, after *estimate.Day) {
	date := s.local(w.at).Format(time.DateOnly)
	for i := range c.Days {
		d := &c.Days[i]
		if !known(d.FilterRatio.V) {
			continue
		}
		if d.Date < date {
			before = d
		}
		if d.Date > date {
			return before, d
		}
	}
	return before, nil
}

// cleaningRow says what a cleaning recovered.
func (s *server) cleaningRow(w cleaning, c *watch.Collector, now time.Time) cleaningRow {
	r := cleaningRow{When: s.day(w.at, now), Before: unknown, After: "not run since", Recovered: unknown, Told: "written down by " + w.by}
	switch {
	case w.noticed && w.by != "":
		r.Told = "noticed, and written down by " + w.by
	case w.noticed:
		r.Told = "noticed; nobody wrote it down"
	}
	before, after := s.around(w, c)
	if before != nil {
		r.Before = percent(before.FilterRatio)
	}
	if after != nil {
		r.After = percent(after.FilterRatio)
	}
	if before != nil && after != nil {
		r.Recovered = percent(recovered(before.FilterRatio, after.FilterRatio))
	}
	return r
}

// recovered is what a cleaning took off the resistance; NaN where either day is not known.
func recovered(before, after estimate.Value) estimate.Value {
	return estimate.Value{V: before.V - after.V, SE: math.Hypot(before.SE, after.SE)}
}

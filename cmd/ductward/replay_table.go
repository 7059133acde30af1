package main

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/watch"
)

// writeReplayTable writes the outcome for a person: a line a day, then the findings and the alarms.
func writeReplayTable(w io.Writer, o *outcome) error {
	fmt.Fprintf(w, "%s, %s, %s; leaks are told at %s Pa of suction\n",
		count(o.told.readings, "reading", "readings"), count(o.told.runs, "steady run", "steady runs"),
		count(o.told.entries, "journal entry", "journal entries"), cell(o.snapshot.ReferenceSuction, 0))
	for i := range o.snapshot.Collectors {
		c := &o.snapshot.Collectors[i]
		if err := o.collector(w, c); err != nil {
			return err
		}
	}
	return nil
}

func (o *outcome) collector(w io.Writer, c *watch.Collector) error {
	fmt.Fprintf(w, "\ncollector %s\n%s\n", c.Name, o.baseline(&c.Baseline))
	for _, l := range c.Lacks {
		fmt.Fprintf(w, "cannot tell: %s\n", l)
	}
	if err := o.days(w, c.Days); err != nil {
		return err
	}
	fmt.Fprintln(w, "\nfindings")
	if len(c.Findings) == 0 {
		fmt.Fprintln(w, "  none")
	}
	for i := range c.Findings {
		o.finding(w, &c.Findings[i])
	}
	writeNextTest(w, c.NextTest)
	alarms := o.alarms[c.Name]
	fmt.Fprintln(w, "\nalarms")
	if len(alarms) == 0 {
		fmt.Fprintln(w, "  none")
	}
	for _, a := range alarms {
		fmt.Fprintf(w, "  %s  %s, %s\n", o.day(a.raised), a.priority, a.finding)
	}
	return nil
}

func (o *outcome) baseline(b *estimate.Baseline) string {
	if !b.Complete && b.Lacks == "" {
		return "no baseline"
	}
	if !b.Complete {
		return "baseline not complete: " + b.Lacks
	}
	out := fmt.Sprintf("baseline of %s, misfit %s %%, from %s to %s", count(b.GateSets, "gate set", "gate sets"),
		cell(100*b.MisfitRMS, 1), o.day(b.From), o.day(b.To))
	if b.LeftOut > 0 {
		out += fmt.Sprintf("; without %s, which read as with another gate open than told", count(b.LeftOut, "run", "runs"))
	}
	return out
}

func (o *outcome) days(w io.Writer, days []estimate.Day) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "\ndate\tfan h\tfilter ×\tnew leakage m³/h\tfan ×\tclosed checks\tclean between\t")
	for i := range days {
		d := &days[i]
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%d\t%s\t\n", d.Date, cell(d.FanHours, 1), spread(d.FilterRatio, 1, 3),
			spread(d.Leakage, secondsPerHour, 1), spread(d.FanRatio, 1, 4), d.ClosedChecks, o.due(d.Due))
	}
	return t.Flush()
}

func (o *outcome) finding(w io.Writer, f *finding.Finding) {
	span := o.day(f.Raised) + ", goes on"
	if !f.Ended.IsZero() {
		span = o.day(f.Raised) + " to " + o.day(f.Ended)
	}
	fmt.Fprintf(w, "  %s (%s): %s\n", f.Kind, span, f.Text)
}

// spread writes a value with its standard error, both times a factor.
func spread(v estimate.Value, factor float64, decimals int) string {
	if math.IsNaN(v.V) {
		return "–"
	}
	return cell(v.V*factor, decimals) + " ± " + cell(v.SE*factor, decimals)
}

func (o *outcome) due(d *estimate.Due) string {
	if d == nil {
		return "–"
	}
	return o.day(d.Low) + " and " + o.day(d.High)
}

// day writes the date, in the shop's own time, of a moment, and a dash for one that is not known.
func (o *outcome) day(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return t.In(o.location).Format(time.DateOnly)
}

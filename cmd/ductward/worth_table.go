package main

import (
	"fmt"
	"io"
	"math"

	"ductward/internal/bound"
	"ductward/internal/worth"
)

// writeWorthTable writes the answers for a person: what brings most first, then all of it.
func writeWorthTable(w io.Writer, answers []worthAnswer, f worthFlags) error {
	for i, a := range answers {
		if i > 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintf(w, "collector %s\n", a.collector)
		if a.answer == nil {
			lacksLines(w, a)
			continue
		}
		if err := worthTable(w, a.answer, f.top); err != nil {
			return err
		}
	}
	return nil
}

// lacksLines tells what a description without a drawing could say.
func lacksLines(w io.Writer, a worthAnswer) {
	fmt.Fprint(w, paragraph("Without a drawing of the ducts no sensor can be weighed by what it would let this shop see. "+
		"What the description could say beyond what it does, and what that would bring:"))
	for _, l := range a.lacks {
		fmt.Fprint(w, paragraph(l.Key+": "+l.Brings))
	}
}

func worthTable(w io.Writer, a *worth.Answer, top int) error {
	fmt.Fprint(w, paragraph(capital(a.First())))
	fmt.Fprintln(w)
	t := &table{heads: []string{"worth", "day", "week", "apart", "stretch", "filter", "air", "<with"}}
	t.add(worthRow("", a.Now, "what is there")...)
	for _, k := range a.Candidates[:min(top, len(a.Candidates))] {
		t.add(worthRow(percent(k.Score), k.Figures, k.Text)...)
	}
	if err := t.write(w); err != nil {
		return err
	}
	if more := len(a.Candidates) - top; more > 0 {
		fmt.Fprintf(w, "and %d more (--top %d)\n", more, len(a.Candidates))
	}
	fmt.Fprint(w, "\n"+paragraph(worthLegend(a)))
	for _, r := range a.Refused {
		fmt.Fprint(w, paragraph(fmt.Sprintf("Not proposed: %s, since %s.", r.Text, r.Reason)))
	}
	if shuts(a) {
		fmt.Fprint(w, paragraph("Every gate is shut only while no machine cuts; the rating in the shop file is taken as it stands."))
	}
	fmt.Fprint(w, paragraph(worthAssumed(a)))
	return nil
}

// shuts tells whether a stretch with every gate shut is among the candidates.
func shuts(a *worth.Answer) bool {
	for _, k := range a.Candidates {
		if k.Checks != bound.NoChecks {
			return true
		}
	}
	return false
}

// worthRow writes one line of figures.
func worthRow(score string, f worth.Figures, text string) []string {
	leak := func(x float64) string {
		switch {
		case math.IsInf(x, 1) || math.IsNaN(x):
			return "none"
		case x*secondsPerHour < 10:
			return cell(x*secondsPerHour, 1)
		}
		return cell(x*secondsPerHour, 0)
	}
	share := func(x float64, decimals int) string {
		if math.IsNaN(x) {
			return "–"
		}
		return cell(100*x, decimals) + " %"
	}
	return []string{score, leak(f.Day), leak(f.Week), leak(f.Apart), share(f.Stretch, 0), share(f.Filter, 2), share(f.Air, 1), text}
}

// worthLegend says what the columns are.
func worthLegend(a *worth.Answer) string {
	air := ""
	if a.Needy != "" {
		air = fmt.Sprintf("; air: of the air at %s, which lacks most", a.Needy)
	}
	return fmt.Sprintf("day, week: the smallest leak in m³/h at %.0f Pa that is found nine times of ten, in a place that nobody knows "+
		"beforehand, within one day of work and within five; apart: within five, while any drop may be blocked besides; stretch: how "+
		"often the right stretch of the trunk is named first a week after a leak of %.0f m³/h; filter: the standard error of its "+
		"resistance on one day%s. A tap sits on the trunk's side of a gate. No reading tells more than this; the watch comes near it "+
		"and not to it.", a.Reference, a.Question.Leak*secondsPerHour, air)
}

// worthAssumed says on what the figures rest.
func worthAssumed(a *worth.Answer) string {
	q := a.Question
	checks := []string{"and never with every gate shut", "and once a week with every gate shut", "and each morning with every gate shut"}[q.Habits.Checks]
	return fmt.Sprintf("Assumed: two weeks of baseline that began with a walk through the gates; %d runs of %g minutes a day, each machine alone "+
		"and with its neighbour in the file, %s; hoods and hoses that differ by %g %% from use to use; a filter of %g times the clean "+
		"one's resistance; ducts built within 10 %% of the drawing.", q.Habits.Runs, q.Habits.Minutes, checks, 100*q.Noise.Hood, q.Filter)
}

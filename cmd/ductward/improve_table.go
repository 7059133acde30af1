package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"ductward/internal/improve"
)

const (
	improveWidth  = 110 // columns of a line for people
	improveIndent = 18  // columns of figures before a proposal's text
	improvePriced = 34  // with prices
	improveWays   = 3   // ways of changing one place that are shown
)

// writeImproveTable writes the answers for a person, what to do first in the first sentence.
func writeImproveTable(w io.Writer, answers []*improve.Answer, f improveFlags) error {
	b := bufio.NewWriter(w)
	for i, a := range answers {
		if i > 0 {
			fmt.Fprintln(b)
		}
		improveTable(b, a, f)
	}
	return b.Flush()
}

func improveTable(w io.Writer, a *improve.Answer, f improveFlags) {
	fmt.Fprintf(w, "collector %s\n", a.Collector)
	indented(w, 0, capital(a.First()))
	needyTable(w, a)
	advisedTable(w, a, f.top)
	stepsTable(w, a)
	refusedTable(w, a, f.top)
	assumedLines(w, a, f)
}

func needyTable(w io.Writer, a *improve.Answer) {
	if a.Tight || len(a.Needy) == 0 {
		return
	}
	fmt.Fprintln(w, "\nshort of air")
	for _, n := range a.Needy {
		indented(w, 2, fmt.Sprintf("%s: in %d of the %d sets in which it is open; at worst %s of %s m³/h, %s", n.Machine, n.Sets, n.Open,
			cell(n.Flow*secondsPerHour, 0), cell(n.Needs*secondsPerHour, 0), n.Worst.Beside(n.Machine)))
	}
}

// advisedTable writes the changes place by place, the one with the most air first, and under it other ways of changing
// the same place.
func advisedTable(w io.Writer, a *improve.Answer, top int) {
	if len(a.Advised) == 0 {
		return
	}
	fmt.Fprintf(w, "\n%s\n", improveHead(a))
	places := improve.ByPlace(a.Advised)
	for i, place := range places {
		if i == top {
			fmt.Fprintf(w, "%*sand at %d more places (--top %d)\n", improveIndent, "", len(places)-top, len(places))
			return
		}
		for k, p := range place[:min(improveWays, len(place))] {
			proposalLines(w, a, p, k > 0)
		}
	}
}

// improveHead is the line over the proposals.
func improveHead(a *improve.Answer) string {
	head := fmt.Sprintf("%9s %6s", "gain m³/h", "short")
	if a.Currency != "" {
		head += fmt.Sprintf(" %6s %8s", a.Currency, "m³/h/"+a.Currency)
	}
	figures := indentOf(a) - utf8.RuneCountInString(head)
	return fmt.Sprintf("%s%*schange (short counts machines by sets: %d now)", head, figures, "", a.Short)
}

// indentOf is the width of the figures before a proposal's text.
func indentOf(a *improve.Answer) int {
	if a.Currency == "" {
		return improveIndent
	}
	return improvePriced
}

// proposalLines writes one proposal, as another way of doing what stands above it or as its own.
func proposalLines(w io.Writer, a *improve.Answer, p improve.Proposal, other bool) {
	text := p.Text
	if other {
		text = "  or " + text
	}
	figures := fmt.Sprintf("%+9.0f %6d", p.Gain*secondsPerHour, p.Short)
	if a.Currency != "" {
		figures += fmt.Sprintf(" %6s %8s", cell(p.Cost, 0), perMoney(p))
	}
	hanging(w, indentOf(a), figures, text)
	for _, line := range p.Taken() {
		hanging(w, indentOf(a), "", "    "+line)
	}
	if len(p.Without) > 0 {
		hanging(w, indentOf(a), "", "    no price for "+strings.Join(p.Without, ", "))
	}
}

func perMoney(p improve.Proposal) string {
	if p.Cost == 0 {
		return "free"
	}
	return cell(p.PerMoney()*secondsPerHour, 2)
}

func stepsTable(w io.Writer, a *improve.Answer) {
	if len(a.Steps) < 2 {
		return
	}
	fmt.Fprintln(w, "\none after the other, each with the earlier ones in place")
	for i, s := range a.Steps {
		text := fmt.Sprintf("%d. %s", i+1, s.Text)
		if a.Currency != "" && !math.IsNaN(s.Total) {
			text += fmt.Sprintf("; %.0f %s up to here", s.Total, a.Currency)
		}
		hanging(w, improveIndent, fmt.Sprintf("%+9.0f %6d", s.Gain*secondsPerHour, s.Short), text)
	}
	last := a.Steps[len(a.Steps)-1]
	if len(last.Still) == 0 {
		indented(w, improveIndent, "then every machine has what it needs in every set that counts")
		return
	}
	indented(w, improveIndent, "then still short somewhere: "+strings.Join(last.Still, ", "))
}

// refusedTable writes the best refused change of each place.
func refusedTable(w io.Writer, a *improve.Answer, top int) {
	if len(a.Refused) == 0 {
		return
	}
	fmt.Fprintln(w, "\nnot advised")
	places := improve.ByPlace(a.Refused)
	for _, place := range places[:min((top+1)/2, len(places))] {
		p := place[0]
		hanging(w, improveIndent, fmt.Sprintf("%+9.0f", p.Gain*secondsPerHour), p.Text+", "+p.Why(a.Least))
		if len(place) > 1 {
			hanging(w, improveIndent, "", fmt.Sprintf("  nor %s", amount(len(place)-1, "other change", "other changes")+" of that place"))
		}
	}
	if more := len(places) - (top+1)/2; more > 0 {
		fmt.Fprintf(w, "%*snor at %s\n", improveIndent, "", amount(more, "more place", "more places"))
	}
	if !asked(a) {
		indented(w, improveIndent, "name the sets that the shop uses with --open, and only those are judged")
	}
}

func amount(n int, one, many string) string {
	if n == 1 {
		return "one " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// hanging writes figures and, beside them, a text that keeps its own left edge.
func hanging(w io.Writer, indent int, figures, text string) {
	var b strings.Builder
	indented(&b, indent, text)
	rest := strings.TrimPrefix(b.String(), strings.Repeat(" ", indent))
	fmt.Fprintf(w, "%s%s%s", figures, strings.Repeat(" ", max(1, indent-utf8.RuneCountInString(figures))), rest)
}

// indented writes a text in lines of at most improveWidth columns, each behind an indent.
func indented(w io.Writer, indent int, text string) {
	extra := len(text) - len(strings.TrimLeft(text, " "))
	margin := strings.Repeat(" ", indent+extra)
	line := margin
	for _, word := range strings.Fields(text) {
		switch {
		case line == margin:
			line += word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > improveWidth:
			fmt.Fprintln(w, line)
			line = margin + word
		default:
			line += " " + word
		}
	}
	fmt.Fprintln(w, line)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

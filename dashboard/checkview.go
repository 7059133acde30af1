package dashboard

import (
	"fmt"
	"math"

	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// checkLine is one regular check in words.
type checkLine struct {
	Title, Text string
	When        string
	Due         bool
}

// checkLines puts the regular checks into words, due or not.
func (s *server) checkLines(rq *request, c *watch.Collector) []checkLine {
	var out []checkLine
	for i := range c.Checks {
		k := &c.Checks[i]
		l := checkLine{Title: "Daily check", Text: s.words(checkText(k)), Due: k.Due}
		if k.Kind == estimate.WalkCheck {
			l.Title = "Weekly walk through the gates"
		}
		switch {
		case k.Due:
			l.When = "due since " + s.moment(k.Since, rq.now)
		case !k.Last.IsZero():
			l.When = "not due; last " + s.moment(k.Last, rq.now)
		default:
			l.When = "not due yet"
		}
		out = append(out, l)
	}
	return out
}

// dueChecks keeps those that are due.
func (s *server) dueChecks(rq *request, c *watch.Collector) []checkLine {
	var out []checkLine
	for _, l := range s.checkLines(rq, c) {
		if l.Due {
			out = append(out, l)
		}
	}
	return out
}

// checkText says what is to be done, and what it tells.
func checkText(k *estimate.Check) string {
	const idle = "With every machine idle and the fan running, "
	switch {
	case k.Kind == estimate.WalkCheck && len(k.Sets) == 0:
		return "Each gate has been open alone within the week."
	case k.Kind == estimate.WalkCheck:
		return idle + fmt.Sprintf("open these gates alone, one after another, for %s each, and open each before you shut the one before: %s.",
			minutesText(k.Duration), setsText(k.Sets))
	case k.Kind == estimate.ClosedCheck:
		return idle + "shut every gate for " + minutesText(k.Duration) + "." + powerText(" That tells the new leakage in all to ± %s, one standard error.", k.Power)
	}
	return idle + "open only " + sentenceList(k.Sets[0]) + ", its hood and hose as always, for " + minutesText(k.Duration) + "." +
		powerText(" That tells the new leakage in all to ± %s.", k.Power) +
		powerText(" With every gate shut it would be ± %s, but the ducts are not known to bear that.", k.Closed)
}

// powerText writes a standard error into a sentence; nothing where it is not known.
func powerText(format string, q float64) string {
	if math.IsNaN(q) {
		return ""
	}
	return fmt.Sprintf(format, join(fixed(q*hour, 0), "m³/h"))
}

// setsText lists sets of gates.
func setsText(sets [][]string) string {
	var names []string
	for _, set := range sets {
		names = append(names, sentenceList(set))
	}
	return sentenceList(names)
}

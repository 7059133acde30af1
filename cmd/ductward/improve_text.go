package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"ductward/internal/improve"
)

// assumedLines tells on what the answer rests.
func assumedLines(w io.Writer, a *improve.Answer, f improveFlags) {
	fmt.Fprintln(w, "\nassumed")
	for _, text := range assumed(a, f) {
		indented(w, 2, text)
	}
}

func assumed(a *improve.Answer, f improveFlags) []string {
	var out []string
	switch {
	case f.filter == 1:
		out = append(out, "a clean filter (--filter-resistance for a loaded one)")
	default:
		out = append(out, fmt.Sprintf("a filter of %g times the clean one's resistance", f.filter))
	}
	if f.speed != 1 {
		out = append(out, fmt.Sprintf("a fan at %g of the speed of its curve", f.speed))
	}
	out = append(out, setsWords(a)...)
	out = append(out, fmt.Sprintf("dust is carried from %.3g m/s on", a.Least))
	if len(a.Unstated) > 0 {
		out = append(out, "no need is stated for "+strings.Join(a.Unstated, ", ")+", so that nothing counts as gained there")
	}
	if len(a.Locked) > 0 {
		out = append(out, "a gate is always shut on the way of "+strings.Join(a.Locked, ", "))
	}
	if a.Tried > 0 {
		out = append(out, fmt.Sprintf("%d changes were tried; %d of them bring less than 1 m³/h or take air", a.Tried, a.Idle))
	}
	if a.Lost > 0 {
		out = append(out, fmt.Sprintf("%d changes have no state of balance in some set and are left out", a.Lost))
	}
	return append(out, assumptions(a)...)
}

// setsWords tells which sets were judged, and which of them count for nobody.
func setsWords(a *improve.Answer) []string {
	text := fmt.Sprintf("%s: each machine alone, each pair, and all together", amount(len(a.Sets), "set of open gates", "sets of open gates"))
	if asked(a) {
		text = amount(len(a.Sets), "set of open gates", "sets of open gates") + ", as asked for"
	}
	var beyond []string
	for _, s := range a.Sets {
		if s.Beyond {
			beyond = append(beyond, s.Name())
		}
	}
	out := []string{text}
	switch bare := cell(a.Bare*secondsPerHour, 0); {
	case len(beyond) == 1 && len(beyond[0]) < improveWidth:
		out = append(out, fmt.Sprintf("the collector moves %s m³/h without any ducts, and %s need more: no change of the ducts serves them at once%s", bare, beyond[0], uncounted(a)))
	case len(beyond) > 0:
		out = append(out, fmt.Sprintf("the collector moves %s m³/h without any ducts, and the machines of %d of the sets need more: no change of the ducts serves them at once%s", bare, len(beyond), uncounted(a)))
	}
	return out
}

func uncounted(a *improve.Answer) string {
	if asked(a) {
		return ""
	}
	return ", so that gains are not counted there; dust must be carried there all the same where it is now"
}

// asked tells that the sets are those that the owner named.
func asked(a *improve.Answer) bool {
	return slices.ContainsFunc(a.Sets, func(s improve.Set) bool { return s.Asked })
}

// assumptions gathers what the advised changes assume, each once.
func assumptions(a *improve.Answer) []string {
	var out []string
	seen := map[string]bool{}
	for _, p := range a.Advised {
		for _, text := range p.Assumes {
			if key := string(p.Kind) + text; !seen[key] {
				seen[key] = true
				out = append(out, string(p.Kind)+": "+text)
			}
		}
	}
	return out
}

package alarm

import (
	"slices"
	"strings"

	"ductward/internal/finding"
)

// underCauses takes out the findings that follow from another one, and returns what follows, in words, by the cause of that
// one. That one asks for as much as the most urgent of them. One that follows from a finding that nobody knows, or that asks
// nothing of anybody, stands by itself: it is not lost.
func underCauses(findings []finding.Finding) (rest []finding.Finding, follows map[string][]string) {
	if !slices.ContainsFunc(findings, func(f finding.Finding) bool { return f.Under != "" }) {
		return findings, nil
	}
	at := map[string]int{}
	for i := range findings {
		at[findings[i].ID] = i
	}
	follows = map[string][]string{}
	rest = slices.Clone(findings)
	gone := map[int]bool{}
	for i := range findings {
		f := &findings[i]
		k, known := at[f.Under]
		if f.Under == "" || !known || urgency(rest[k].Priority) == 0 || rest[k].Under != "" {
			continue
		}
		gone[i] = true
		if behind := &rest[k]; behind.Active() && f.Active() && urgency(f.Priority) > 0 {
			key := Cause(behind)
			follows[key] = append(follows[key], f.Text)
			if urgency(f.Priority) > urgency(behind.Priority) {
				behind.Priority = f.Priority
			}
		}
	}
	n := -1
	rest = slices.DeleteFunc(rest, func(finding.Finding) bool { n++; return gone[n] })
	for _, words := range follows {
		slices.SortFunc(words, strings.Compare)
	}
	return rest, follows
}

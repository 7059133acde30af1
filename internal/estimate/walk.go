package estimate

import (
	"fmt"
	"slices"
)

// walk lists the machines whose gate, open alone, a walk through the gates would still have to visit: those that no run
// has shown yet, and whose suction the ducts are known to bear; refused tells how many they are not.
func (e *Estimator) walk() (missing []string, refused int) {
	if e.viewer == nil {
		return nil, 0
	}
	for _, m := range e.collector.Machines {
		set := e.aloneSet(m.Name)
		if set == nil || e.sets[set.key] != nil {
			continue
		}
		if !e.bears(set) {
			refused++
			continue
		}
		missing = append(missing, m.Name)
	}
	return missing, refused
}

// walkWords says what a walk through the gates would add to the baseline in the making.
func (e *Estimator) walkWords() string {
	missing, refused := e.walk()
	slices.Sort(missing)
	words := ""
	if len(missing) > 0 {
		words = fmt.Sprintf(" With all machines idle, open the gates of these alone for two minutes each: %s.", listWords(missing))
	}
	if refused > 0 {
		if e.rated() {
			words += " Some gates are not proposed alone: the suction would exceed what the ducts are rated for."
		} else {
			words += " No set of gates is proposed that the shop does not run anyway: the ducts' rating for negative pressure is not entered."
		}
	}
	return words
}

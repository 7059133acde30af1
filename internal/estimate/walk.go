package estimate

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/duct"
)

// leastLeakage is the factor on the designed leakage that a set of gates is judged with before it is proposed: ducts may be
// tighter than they are drawn, and the suction is then at its largest.
const leastLeakage = 0.2

// walk lists the machines whose gate, open alone, a walk through the gates would still have to visit: those that no run
// has shown yet, and whose suction the ducts are known to bear. Without a rating none is proposed beyond what the shop
// runs anyway; refused tells how many the rating forbids.
func (e *Estimator) walk() (missing []string, refused int) {
	if e.viewer == nil {
		return nil, 0
	}
	for _, m := range e.collector.Machines {
		set := e.aloneSet(m.Name)
		if set == nil || e.sets[set.key] != nil {
			continue
		}
		if !(e.collector.Rating > 0) || e.largestSuction(set) > e.collector.Rating {
			refused++
			continue
		}
		missing = append(missing, m.Name)
	}
	return missing, refused
}

// largestSuction returns the largest suction anywhere in the ducts with a set of gates, in Pa, with a clean filter and the
// least leakage that the ducts could have; +Inf where it cannot be solved.
func (e *Estimator) largestSuction(set *gateSet) float64 {
	st := duct.State{Setting: set.setting, Air: e.standardAir(), LeakFactor: leastLeakage}
	res, err := e.viewer.model.Solve(st)
	if err != nil {
		return math.Inf(1)
	}
	most := -res.InletStatic
	for _, r := range res.Runs {
		most = max(most, -r.StaticStart, -r.StaticEnd)
	}
	return most
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
		if e.collector.Rating > 0 {
			words += " Some gates are not proposed alone: the suction would exceed what the ducts are rated for."
		} else {
			words += " No set of gates is proposed that the shop does not run anyway: the ducts' rating for negative pressure is not entered."
		}
	}
	return words
}

package main

import (
	"fmt"
	"math"

	"ductward/internal/balance"
)

// balanceText says in sentences what the answer comes to, the most important first.
func balanceText(a *balance.Answer) []string {
	texts := []string{safeText(a)}
	texts = append(texts, unservedText(a)...)
	texts = append(texts, dustText(a)...)
	if math.IsNaN(a.Rating) {
		texts = append(texts, "The suction that the ducts bear is not known (rating in the shop file), so that no set was left out for it; the fewer gates are open, the larger it is.")
	}
	return append(texts, workText(a))
}

// filterWords names a state of the filter.
func filterWords(a *balance.Answer, i int) string {
	switch {
	case i > 0:
		return "with the filter at its limit"
	case a.Filter[i] == 1:
		return "with a clean filter"
	}
	return fmt.Sprintf("with the filter at %.3g times the clean one's resistance", a.Filter[i])
}

// leastWords is the velocity that carries the dust.
func leastWords(a *balance.Answer) string { return fmt.Sprintf("%.3g m/s", a.Least) }

func bothWords(a *balance.Answer) string {
	if len(a.Filter) < 2 {
		return filterWords(a, 0)
	}
	return filterWords(a, 0) + " and " + filterWords(a, 1)
}

func eitherWords(a *balance.Answer) string {
	if len(a.Filter) < 2 {
		return filterWords(a, 0)
	}
	return filterWords(a, 0) + " or " + filterWords(a, 1)
}

// safeText tells how many sets can be planned on.
func safeText(a *balance.Answer) string {
	if a.Safe > 0 {
		what := fmt.Sprintf("%s safe to plan on, of up to %d machines", count(a.Safe, "set of machines is", "sets of machines are"), len(a.Together[0].Machines))
		if len(a.Together[0].Machines) == 1 {
			what = count(a.Safe, "machine is", "machines are") + " safe to plan on, but only with nothing else open"
		}
		return fmt.Sprintf("%s: %s, each open machine has the air that it needs, and the dust is carried (%s) wherever its air goes.",
			what, bothWords(a), leastWords(a))
	}
	text := "No set of machines is safe to plan on: in each, " + eitherWords(a) + ", a machine is short of air"
	if !math.IsNaN(a.Rating) {
		text += ", the suction is above what the ducts bear"
	}
	text += fmt.Sprintf(", or dust may settle (slower than %s) in a run that the air of an open machine goes through.",
		leastWords(a))
	if len(a.Filter) > 1 && a.Fine[0] > 0 {
		text += fmt.Sprintf(" %s fine %s only.", count(a.Fine[0], "set is", "sets are"), filterWords(a, 0))
	}
	if last := len(a.Fed) - 1; a.Fed[last] > 0 {
		text += fmt.Sprintf(" As to air alone, each machine has what it needs in %s, %s.",
			count(a.Fed[last], "set", "sets"), filterWords(a, last))
	}
	return text
}

// unservedText names the machines that cannot be served, by how far they can.
func unservedText(a *balance.Answer) []string {
	var never, first, dust, both []string
	for _, m := range a.Machines {
		switch m.Served {
		case balance.Never:
			never = append(never, m.Name)
		case balance.FirstOnly:
			first = append(first, m.Name)
		case balance.AirOnly:
			dust = append(dust, m.Name)
		case balance.AirFirst:
			both = append(both, m.Name)
		}
	}
	var texts []string
	if len(never) > 0 {
		texts = append(texts, fmt.Sprintf("Never served, whatever else is open or shut: %s.", andList(never)))
	}
	if len(first) > 0 {
		texts = append(texts, fmt.Sprintf("Served %s, but not %s: %s.", filterWords(a, 0), filterWords(a, len(a.Filter)-1), andList(first)))
	}
	if len(dust) > 0 {
		texts = append(texts, fmt.Sprintf("Given enough air, but never without dust settling somewhere on the way: %s.", andList(dust)))
	}
	if len(both) > 0 {
		texts = append(texts, fmt.Sprintf("Given enough air %s only, and even then not without dust settling somewhere on the way: %s.", filterWords(a, 0), andList(both)))
	}
	return texts
}

// dustText names the runs that are too wide for what flows in them, and what sweeps them.
func dustText(a *balance.Answer) []string {
	if len(a.Runs) == 0 {
		return nil
	}
	var names []string
	for _, r := range a.Runs {
		names = append(names, fmt.Sprintf("%s (%.0f mm, %.1f m/s at best)", r.Name, 1000*r.Diameter, r.Best))
	}
	texts := []string{fmt.Sprintf("In %s the air never carries the dust while each open machine has what it needs, %s: the duct is too wide for it, or the fan too small.",
		andList(names), filterWords(a, len(a.Filter)-1))}
	if sweep := sweepText(a); sweep != "" {
		texts = append(texts, sweep)
	}
	return texts
}

// sweepText tells what to open after work so that what has settled is carried off.
func sweepText(a *balance.Answer) string {
	by := map[string][]string{}
	var order []string
	for _, r := range a.Runs {
		if r.Sweep == nil {
			continue
		}
		with := andList(r.Sweep)
		if by[with] == nil {
			order = append(order, with)
		}
		by[with] = append(by[with], r.Name)
	}
	text := ""
	for _, with := range order {
		if text != "" {
			text += " "
		}
		text += fmt.Sprintf("To sweep %s now and then, open %s together, while none of them cuts.", andList(by[with]), with)
	}
	return text
}

// workText tells what was solved, and what was not.
func workText(a *balance.Answer) string {
	text := fmt.Sprintf("Solved: %s", count(a.Solved, "state", "states"))
	switch {
	case !a.All:
		text += fmt.Sprintf(". That is not every set of gates: all of up to %s were looked at, and larger ones from the best of those on, so that there may be more and larger sets than are told here",
			count(a.Whole, "machine", "machines"))
	case a.Pruned:
		text += "; sets that hold a set with a machine short of air were left out, for one more open gate gives nobody more"
	default:
		text += ", which is every set of gates"
	}
	if a.Lost > 0 {
		text += fmt.Sprintf("; for %s the model found no answer, and they count as not fine", count(a.Lost, "state", "states"))
	}
	if len(a.Filter) > 1 {
		text += fmt.Sprintf(". A filter at its limit has %.3g times the clean one's resistance", a.Filter[1])
	} else {
		text += ". No limit of the filter beyond that resistance is known, so that no other was solved"
	}
	return text + "."
}

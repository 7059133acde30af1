package main

import (
	"fmt"
	"slices"
	"strings"

	"ductward/internal/compare"
)

// compareText says in sentences what changes from the first drawing to the second, the most important first.
func compareText(c *compared, a *compare.Answer) []string {
	texts := turnedText(a)
	texts = append(texts, gainText(a)...)
	texts = append(texts, partsText(a)...)
	what := "each machine alone, each pair that can be open together, and as many as possible together"
	if c.asked {
		what = "those that were asked for"
	}
	text := fmt.Sprintf("Compared: %s (%s), with %s.", count(len(a.Sets), "set of gates", "sets of gates"), what, cleanOr(c.filter))
	if !a.AllPairs {
		text += " Not every pair is among them: there are too many."
	}
	return append(texts, text)
}

func cleanOr(filter float64) string {
	if filter == 1 {
		return "a clean filter"
	}
	return fmt.Sprintf("the filter at %.3g times the clean one's resistance", filter)
}

// turnedText tells what was fine and is not, and the other way round.
func turnedText(a *compare.Answer) []string {
	var short, fed, over []string
	slow, carry := map[string]int{}, map[string]int{}
	for _, m := range a.Machines {
		if m.NowShort > 0 {
			short = append(short, inSets(m.Name, m.NowShort, m.Sets))
		}
		if m.NowFed > 0 {
			fed = append(fed, inSets(m.Name, m.NowFed, m.Sets))
		}
	}
	for i := range a.Sets {
		s := &a.Sets[i]
		for _, r := range s.NowSlow {
			slow[r]++
		}
		for _, r := range s.NowCarry {
			carry[r]++
		}
		if s.NowOver() {
			over = append(over, andList(s.Machines))
		}
	}
	var texts []string
	add := func(text string, names []string) {
		if len(names) > 0 {
			texts = append(texts, fmt.Sprintf(text, andList(names)))
		}
	}
	add("Short of air in the second drawing, and not in the first: %s.", short)
	add("No longer short: %s.", fed)
	add("Dust may settle in the second drawing, and not in the first, in %s.", runCounts(slow))
	add("Dust no longer settles in %s.", runCounts(carry))
	if len(over) > 0 {
		texts = append(texts, fmt.Sprintf("The suction is above what the ducts bear in the second drawing, and not in the first, in %s, as with %s open.",
			count(len(over), "set", "sets"), over[0]))
	}
	return texts
}

// runCounts lists runs by name with the number of sets.
func runCounts(sets map[string]int) []string {
	var names []string
	for r := range sets {
		names = append(names, r)
	}
	slices.Sort(names)
	for i, r := range names {
		names[i] = fmt.Sprintf("%s (%s)", r, count(sets[r], "set", "sets"))
	}
	return names
}

// gainText sorts the machines by who gains and who loses, over all sets in which they are open.
func gainText(a *compare.Answer) []string {
	var gain, lose, either, same []string
	for _, m := range a.Machines {
		if m.Sets == 0 {
			continue
		}
		span := fmt.Sprintf("%s (%s)", m.Name, spanOf(&m))
		switch least, most := m.Least.Turns(), m.Most.Turns(); {
		case least == 0 && most == 0:
			same = append(same, m.Name)
		case least >= 0:
			gain = append(gain, span)
		case most <= 0:
			lose = append(lose, span)
		default:
			either = append(either, span)
		}
	}
	if len(gain)+len(lose)+len(either) == 0 {
		return []string{"No machine gains or loses air in any set."}
	}
	var texts []string
	for _, l := range []struct {
		text  string
		names []string
	}{
		{"Gain air, and lose it in no set", gain}, {"Lose air, and gain it in no set", lose},
		{"Gain or lose, by what else is open", either}, {"Get the same", same},
	} {
		if len(l.names) > 0 {
			texts = append(texts, fmt.Sprintf("%s: %s.", l.text, andList(l.names)))
		}
	}
	return texts
}

// spanOf is the least and the most that a machine gains.
func spanOf(m *compare.Machine) string {
	least, most := signed(m.Least.Share()), signed(m.Most.Share())
	switch {
	case least == most:
		return least
	case m.Least.Turns() == 0:
		return "up to " + most
	case m.Most.Turns() == 0:
		return "up to " + least
	}
	return least + " to " + most
}

// inSets adds in how many sets of those in which a machine is open, where there are several.
func inSets(name string, n, of int) string {
	if of == 1 {
		return name
	}
	return fmt.Sprintf("%s (in %d of %d sets)", name, n, of)
}

// signed writes a gain with its sign; what is the same has none.
func signed(share float64) string {
	text := cell(100*share, 1)
	if text == "–" {
		return ""
	}
	if !strings.HasPrefix(text, "-") && text != "0.0" {
		text = "+" + text
	}
	return text + " %"
}

// partsText tells what only one drawing has, and what bears another name.
func partsText(a *compare.Answer) []string {
	var texts []string
	for side, name := range [2]string{"first", "second"} {
		var parts []string
		for _, of := range []struct {
			kind  string
			names []string
		}{{"machine", a.OnlyMachines[side]}, {"gate", a.OnlyGates[side]}, {"selector", a.OnlySelectors[side]}} {
			for _, n := range of.names {
				parts = append(parts, of.kind+" "+n)
			}
		}
		if len(parts) > 0 {
			texts = append(texts, fmt.Sprintf("Only in the %s drawing: %s.", name, andList(parts)))
		}
	}
	if a.Was != "" {
		texts = append(texts, fmt.Sprintf("The collector was %s.", a.Was))
	}
	var renamed []string
	for _, r := range a.Renamed {
		renamed = append(renamed, fmt.Sprintf("%s is now %s", r[0], r[1]))
	}
	if len(renamed) > 0 {
		texts = append(texts, "Renamed: "+andList(renamed)+".")
	}
	return texts
}

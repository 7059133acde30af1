package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"ductward/internal/compare"
)

// mostTurned sets in which something turns are told unless all are wanted.
const mostTurned = 12

// writeCompareTable writes the answer for a person: what changes first, then the machines, then sets by themselves.
func writeCompareTable(w io.Writer, c *compared, all bool) error {
	for side, names := range c.only {
		if len(names) > 0 {
			fmt.Fprint(w, paragraph(fmt.Sprintf("Only %s has, or draws: collector %s.", c.paths[side], andList(names))))
		}
	}
	fmt.Fprintf(w, "first drawing: %s\nsecond drawing: %s\n", c.paths[0], c.paths[1])
	for _, a := range c.answers {
		fmt.Fprintf(w, "\ncollector %s\n", a.Collector)
		for _, text := range compareText(c, a) {
			fmt.Fprint(w, paragraph(text))
		}
		if err := compareTables(w, c, a, all); err != nil {
			return err
		}
	}
	return nil
}

func compareTables(w io.Writer, c *compared, a *compare.Answer, all bool) error {
	if !c.asked {
		fmt.Fprintln(w)
		if err := gainTable(a).write(w); err != nil {
			return err
		}
		fmt.Fprint(w, paragraph("alone: with nothing else open. least, most: over all sets in which it is open. short: the sets in which it is short of air, in the first and in the second drawing."))
	}
	if c.asked || all {
		return setTables(w, a)
	}
	return turnedTable(w, a)
}

// gainTable is a line a machine, over all sets.
func gainTable(a *compare.Answer) *table {
	t := &table{heads: []string{"machine", "needs m³/h", "alone, 1st", "2nd", "change", "least", "most", "sets", "short, 1st", "2nd"}}
	for _, m := range a.Machines {
		row := []string{m.Name, cell(m.Needs[1]*secondsPerHour, 0)}
		if m.Alone != nil {
			row = append(row, cell(m.Alone.Flow[0]*secondsPerHour, 0), cell(m.Alone.Flow[1]*secondsPerHour, 0), signed(m.Alone.Share()))
		} else {
			row = append(row, "", "", "")
		}
		t.add(append(row, signed(m.Least.Share()), signed(m.Most.Share()), fmt.Sprint(m.Sets), fmt.Sprint(m.Short[0]), fmt.Sprint(m.Short[1]))...)
	}
	for _, s := range a.Sets { // machines of one drawing only, alone there
		for _, c := range s.Changes {
			if len(s.Changes) == 1 && (s.Sides[0] == nil || s.Sides[1] == nil) {
				t.add(c.Machine, cell(needsOf(c)*secondsPerHour, 0), known(c.Flow[0]*secondsPerHour, 0), known(c.Flow[1]*secondsPerHour, 0), "", "", "", "", "", "")
			}
		}
	}
	return t
}

// needsOf is what a machine needs by the drawing that has it, the second one first.
func needsOf(c compare.Change) float64 {
	if math.IsNaN(c.Needs[1]) {
		return c.Needs[0]
	}
	return c.Needs[1]
}

// turnedTable tells the sets in which something was fine and is not, or the other way round.
func turnedTable(w io.Writer, a *compare.Answer) error {
	t := &table{heads: []string{"open together", "<what turns"}}
	more := 0
	for i := range a.Sets {
		s := &a.Sets[i]
		if !s.Worse() && !s.Better() {
			continue
		}
		if len(t.rows) == mostTurned {
			more++
			continue
		}
		t.add(strings.Join(s.Machines, ", "), turns(s))
	}
	if len(t.rows) == 0 {
		return nil
	}
	fmt.Fprintln(w)
	if err := t.write(w); err != nil {
		return err
	}
	if more > 0 {
		fmt.Fprintf(w, "and %d more; --all tells every set\n", more)
	}
	return nil
}

// turns words what turns in a set.
func turns(s *compare.Set) string {
	var parts []string
	for _, c := range s.Changes {
		switch {
		case c.NowShort():
			parts = append(parts, fmt.Sprintf("%s now short: %s m³/h, was %s, needs %s", c.Machine, cell(c.Flow[1]*secondsPerHour, 0),
				cell(c.Flow[0]*secondsPerHour, 0), cell(c.Needs[1]*secondsPerHour, 0)))
		case c.NowFed():
			parts = append(parts, fmt.Sprintf("%s no longer short: %s m³/h, was %s", c.Machine, cell(c.Flow[1]*secondsPerHour, 0),
				cell(c.Flow[0]*secondsPerHour, 0)))
		}
	}
	if len(s.NowSlow) > 0 {
		parts = append(parts, "dust may settle in "+andList(s.NowSlow))
	}
	if len(s.NowCarry) > 0 {
		parts = append(parts, "dust no longer settles in "+andList(s.NowCarry))
	}
	if s.NowOver() {
		parts = append(parts, "the suction is above the rating")
	}
	return strings.Join(parts, "; ")
}

// setTables tells set after set, machine by machine.
func setTables(w io.Writer, a *compare.Answer) error {
	for i := range a.Sets {
		s := &a.Sets[i]
		fmt.Fprintln(w)
		fmt.Fprint(w, paragraph(setHead(s)))
		t := &table{heads: []string{"machine", "1st m³/h", "2nd m³/h", "change", "needs", "<"}}
		for _, c := range s.Changes {
			t.add(c.Machine, openFlow(c, 0), openFlow(c, 1), signed(c.Share()), cell(needsOf(c)*secondsPerHour, 0), standing(c))
		}
		t.add("fan", fanFlow(s.Sides[0]), fanFlow(s.Sides[1]), "", "", "")
		t.add("fan's rise, Pa", fanRise(s.Sides[0]), fanRise(s.Sides[1]), "", "", "")
		if err := t.write(w); err != nil {
			return err
		}
		if text := turns(s); text != "" {
			fmt.Fprint(w, paragraph(text))
		}
	}
	return nil
}

// setHead names a set, and what a drawing lacks of it.
func setHead(s *compare.Set) string {
	name := s.Asked
	if name == "" {
		name = strings.Join(s.Machines, ", ")
	}
	text := "open: " + name
	for side, ordinal := range [2]string{"first", "second"} {
		if len(s.Missing[side]) > 0 {
			text += fmt.Sprintf(" (the %s drawing has no %s)", ordinal, andList(s.Missing[side]))
		}
		if s.Sides[side] == nil {
			text += fmt.Sprintf(" (not in the %s drawing)", ordinal)
		}
	}
	return text
}

// openFlow is what an open machine gets in one drawing.
func openFlow(c compare.Change, side int) string {
	if !c.Open[side] {
		return ""
	}
	return cell(c.Flow[side]*secondsPerHour, 0)
}

// standing says whether a machine has its air, where that can be said.
func standing(c compare.Change) string {
	words := [2]string{}
	for side := range words {
		switch {
		case !c.Open[side] || math.IsNaN(c.Needs[side]):
		case c.Short(side):
			words[side] = "short"
		default:
			words[side] = "enough"
		}
	}
	switch {
	case words[0] == words[1] || words[0] == "":
		return words[1]
	case words[1] == "":
		return words[0]
	}
	return words[0] + " → " + words[1]
}

func fanFlow(s *compare.Side) string {
	if s == nil {
		return ""
	}
	return cell(s.FanFlow*secondsPerHour, 0)
}

func fanRise(s *compare.Side) string {
	if s == nil {
		return ""
	}
	return cell(s.FanRise, 0)
}

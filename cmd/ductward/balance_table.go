package main

import (
	"fmt"
	"io"
	"strings"

	"ductward/internal/balance"
)

// mostSetsTold are told of each kind unless all are wanted.
const mostSetsTold = 15

// writeBalanceTable writes the answer for a person: what it comes to first, then the sets, then the machines.
func writeBalanceTable(w io.Writer, answers []*balance.Answer, all bool) error {
	for i, a := range answers {
		if i > 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintf(w, "collector %s\n", a.Collector)
		for _, text := range balanceText(a) {
			fmt.Fprint(w, paragraph(text))
		}
		if err := balanceTables(w, a, all); err != nil {
			return err
		}
	}
	return nil
}

func balanceTables(w io.Writer, a *balance.Answer, all bool) error {
	lists := []struct {
		head string
		sets []balance.Together
	}{
		{"may be open together, and nothing else can be added:", a.Together},
		{fmt.Sprintf("may be open together %s, but not %s:", filterWords(a, 0), filterWords(a, len(a.Filter)-1)), a.FirstOnly},
		{"have their air together, but dust may settle:", a.AirOnly},
	}
	told := false
	for _, l := range lists {
		if len(l.sets) == 0 {
			continue
		}
		fmt.Fprintf(w, "\n%s\n", l.head)
		shown := l.sets
		if !all {
			shown = shown[:min(len(shown), mostSetsTold)]
		}
		if err := setTable(a, shown).write(w); err != nil {
			return err
		}
		if more := len(l.sets) - len(shown); more > 0 {
			fmt.Fprintf(w, "and %d more; --all tells them\n", more)
		}
		told = true
	}
	if told {
		fmt.Fprint(w, paragraph(setLegend(a)))
	}
	fmt.Fprintln(w)
	if err := servedTable(a).write(w); err != nil {
		return err
	}
	return whyLines(w, a)
}

// setTable sets the figures before the names, which may be many.
func setTable(a *balance.Answer, sets []balance.Together) *table {
	heads := []string{"machines"}
	for range a.Filter {
		heads = append(heads, "spare", "m/s")
	}
	t := &table{heads: append(heads, "<slowest run", "<open together")}
	for _, s := range sets {
		row := []string{fmt.Sprint(len(s.Machines))}
		for _, f := range s.At {
			spare := ""
			if f.Tightest != "" {
				spare = percent(f.Slack)
			}
			row = append(row, spare, known(f.Velocity, 1))
		}
		t.add(append(row, s.At[len(s.At)-1].Slowest, strings.Join(s.Machines, ", "))...)
	}
	return t
}

func setLegend(a *balance.Answer) string {
	text := "spare: the least that a machine of the set has beyond its need. m/s: in the slowest run that the machines' air goes through"
	if len(a.Filter) > 1 {
		text += fmt.Sprintf("; first %s, then %s", filterWords(a, 0), filterWords(a, 1))
	}
	return text + "."
}

// servedTable is a line a machine.
func servedTable(a *balance.Answer) *table {
	heads := []string{"machine", "needs m³/h"}
	for i := range a.Filter {
		heads = append(heads, []string{"alone m³/h", "at limit"}[i])
	}
	t := &table{heads: append(heads, "safe sets", "<can be served")}
	for i := range a.Machines {
		m := &a.Machines[i]
		row := []string{m.Name, cell(m.Needs*secondsPerHour, 0)}
		for k := range a.Filter {
			flow := ""
			if m.Alone != nil {
				flow = flowOf(m, k)
			}
			row = append(row, flow)
		}
		t.add(append(row, fmt.Sprint(m.Sets), servedWords(a, m))...)
	}
	return t
}

// flowOf is what a machine gets with nothing else open.
func flowOf(m *balance.Machine, state int) string {
	for _, f := range m.Alone[state].Open {
		if f.Name == m.Name {
			return cell(f.Flow*secondsPerHour, 0)
		}
	}
	return ""
}

func servedWords(a *balance.Answer, m *balance.Machine) string {
	switch m.Served {
	case balance.Alone:
		return "alone"
	case balance.WithOther:
		return "with " + companions(m.With)
	case balance.FirstOnly:
		return fmt.Sprintf("only %s", filterWords(a, 0))
	case balance.AirOnly:
		return "has its air, dust may settle"
	case balance.AirFirst:
		return "has air " + filterWords(a, 0) + ", dust may settle"
	}
	return "never"
}

// companions words what must be open as well: single machines as one choice, then sets of more.
func companions(with [][]string) string {
	const told = 4
	var choices []string
	for _, w := range with {
		choices = append(choices, andList(w))
	}
	more := len(choices) - told
	choices = choices[:min(len(choices), told)]
	if more > 0 {
		choices = append(choices, fmt.Sprintf("%d others", more))
	}
	if len(choices) == 1 {
		return choices[0]
	}
	return strings.Join(choices[:len(choices)-1], ", ") + " or " + choices[len(choices)-1]
}

// andList writes names as people say them.
func andList(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// whyLines tells of each machine that is not served alone what stands in the way.
func whyLines(w io.Writer, a *balance.Answer) error {
	first := true
	for _, m := range a.Machines {
		if m.Why == "" {
			continue
		}
		if first {
			fmt.Fprintln(w, "\nwhat stands in the way, machine by machine:")
			first = false
		}
		text := m.Why + "."
		if !strings.HasPrefix(text, m.Name+" ") {
			text = m.Name + ": " + text
		}
		if _, err := fmt.Fprint(w, paragraph(text)); err != nil {
			return err
		}
	}
	return nil
}

package balance

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ductward/internal/duct"
	"ductward/internal/verdict"
)

// wrong words what is wrong with a state, "" if nothing is.
func wrong(v verdict.Verdict) string {
	var parts []string
	for _, s := range v.Short {
		parts = append(parts, fmt.Sprintf("%s gets %s of the %s that it needs", s.Machine, flow(s.Flow), flow(s.Needs)))
	}
	if len(v.Slow) > 0 {
		parts = append(parts, slow(v.Slow))
	}
	if !v.Bears() {
		parts = append(parts, fmt.Sprintf("the suction is %s where the ducts are rated to bear %s", pressure(v.Suction), pressure(v.Rating)))
	}
	return strings.Join(parts, "; ")
}

// slow words the runs that do not carry: the slowest by its number, and how many more there are.
func slow(runs []verdict.Slow) string {
	worst := slices.MinFunc(runs, func(a, b verdict.Slow) int { return cmp.Compare(a.Velocity, b.Velocity) })
	more := ""
	switch n := len(runs) - 1; {
	case n == 1:
		more = ", and in one more run"
	case n > 1:
		more = fmt.Sprintf(", and in %d more runs", n)
	}
	return fmt.Sprintf("dust may settle in %s, where the air makes %s of %s%s", worst.Run, velocity(worst.Velocity), limit(worst.Least), more)
}

// costliest words what costs most on a way, the collector included.
func costliest(p *duct.Path) string {
	const told = 3
	worst := p.WorstFirst()
	var parts []string
	for i := range worst[:min(told, len(worst))] {
		e := &worst[i]
		what, where := e.Words, e.Run
		if what == "" {
			what = e.What
		}
		if e.Name != "" {
			where = e.Name
		}
		if where != "" {
			what += " (" + where + ")"
		}
		parts = append(parts, pressure(e.Loss)+" to "+what)
	}
	return fmt.Sprintf("of the fan's %s it loses %s", pressure(p.Rise), list(parts))
}

// list writes names as people say them.
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// The figures of these texts are whole, as in a table, so that a line never ends within one.
func flow(v float64) string     { return fmt.Sprintf("%.0f m³/h", 3600*v) }
func pressure(v float64) string { return fmt.Sprintf("%.0f Pa", v) }
func velocity(v float64) string { return fmt.Sprintf("%.1f m/s", v) }
func limit(v float64) string    { return fmt.Sprintf("%.3g m/s", v) }

package balance

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ductward/internal/duct"
	"ductward/internal/quantity"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

type short = verdict.Short

// wrong words what is wrong with a state, "" if nothing is.
func wrong(v verdict.Verdict) string {
	var parts []string
	for _, s := range v.Short {
		parts = append(parts, fmt.Sprintf("%s gets %s of the %s that it needs", s.Machine,
			quantity.Format(quantity.Flow, s.Flow, "m3/h"), quantity.Format(quantity.Flow, s.Needs, "m3/h")))
	}
	if len(v.Slow) > 0 {
		parts = append(parts, slow(v.Slow))
	}
	if !v.Bears() {
		parts = append(parts, fmt.Sprintf("the suction is %s where the ducts are rated to bear %s",
			quantity.Format(quantity.Pressure, v.Suction, "Pa"), quantity.Format(quantity.Pressure, v.Rating, "Pa")))
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
	return fmt.Sprintf("dust may settle in %s, where the air makes %s of %s%s", worst.Run,
		quantity.Format(quantity.Velocity, worst.Velocity, "m/s"), quantity.Format(quantity.Velocity, worst.Least, "m/s"), more)
}

// costliest words the runs of a way that cost most, "" where there is none.
func costliest(path []*shop.Run, r *duct.Result) string {
	loss := map[string]float64{}
	for _, f := range r.Runs {
		loss[f.Name] = f.Loss
	}
	var names []string
	total := 0.0
	for _, run := range path {
		names = append(names, run.Name)
		total += loss[run.Name]
	}
	if len(names) == 0 {
		return ""
	}
	slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(loss[b], loss[a]) })
	var parts []string
	for _, n := range names[:min(2, len(names))] {
		parts = append(parts, fmt.Sprintf("%s (%s)", n, quantity.Format(quantity.Pressure, loss[n], "Pa")))
	}
	return fmt.Sprintf("of the %s that the runs on its way cost, most goes in %s", quantity.Format(quantity.Pressure, total, "Pa"), list(parts))
}

// list writes names as people say them.
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

package improve

import (
	"fmt"
	"slices"
	"strings"

	"ductward/internal/shop"
)

// largerDrops tries whole drops in larger sizes, hose and connection included.
func largerDrops(c *shop.Collector) []change {
	var out []change
	for _, d := range drops(c) {
		runs := slices.Concat(d.hose, d.pipe)
		tried := d.sizes(runs)
		for _, size := range tried[:min(2, len(tried))] {
			text := fmt.Sprintf("put in %s instead of %s from %s to the trunk", mm(size), mm(narrowest(runs)), d.machine)
			if d.most == 0 {
				text = fmt.Sprintf("put in %s instead of %s from %s to the collector", mm(size), mm(narrowest(runs)), d.machine)
			}
			if len(d.hose) > 0 {
				text += ", hose included"
			}
			out = append(out, widening(LargerDrop, "pipe of "+d.machine, runs, size, text,
				"the machine's connection can be made as wide", sameHood, sameCoefficients, newReducers))
		}
	}
	return out
}

// largerTrunk tries each stretch of the trunk in larger sizes, and all of them at once.
func largerTrunk(c *shop.Collector) []change {
	var out []change
	list := stretches(c)
	for _, s := range list {
		for _, size := range s.sizes() {
			out = append(out, widening(LargerTrunk, "trunk "+s.runs[0].Name, s.runs, size,
				fmt.Sprintf("put in %s instead of %s in the trunk, %s", mm(size), mm(s.diameter()), span(s.runs)), trunkAssumes(s)...))
		}
	}
	if len(list) < 2 {
		return out
	}
	to, steps, assumes := map[string]float64{}, []string{}, []string{}
	for _, s := range list {
		bigger := larger(s.diameter(), sizes[len(sizes)-1], 1)
		if len(bigger) == 0 {
			return out
		}
		for _, r := range s.runs {
			to[r.Name] = bigger[0]
		}
		if step := fmt.Sprintf("%s instead of %s", mm(bigger[0]), mm(s.diameter())); !slices.Contains(steps, step) {
			steps = append(steps, step)
		}
		for _, a := range trunkAssumes(s) {
			if !slices.Contains(assumes, a) {
				assumes = append(assumes, a)
			}
		}
	}
	return append(out, change{
		kind: LargerTrunk, place: "whole trunk", text: "make the whole trunk one size larger: " + strings.Join(steps, ", "),
		assumes: assumes, draw: func(d *draft) { d.widen(to) },
	})
}

func trunkAssumes(s stretch) []string {
	out := []string{sameCoefficients, newReducers}
	if s.most == 0 {
		out = append(out, "the collector's inlet stays as it is, with a reducer before it")
	}
	return out
}

// sizes lists the diameters that are tried for a stretch: the next two, and up to that of what it leads into.
func (s stretch) sizes() []float64 {
	if s.most == 0 {
		return larger(s.diameter(), sizes[len(sizes)-1], 2)
	}
	out := larger(s.diameter(), s.most, 2)
	if s.most >= s.diameter()*(1+worthwhile) && (len(out) == 0 || wider(s.most, out[len(out)-1])) {
		out = append(out, s.most)
	}
	return out
}

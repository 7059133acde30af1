package improve

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

const (
	sealReference = 1500.0 // Pa, at which leakages with different exponents are compared
	sealedBy      = 1.02   // a run is sealed where it leaks more than its new class by this factor
	sealedTo      = 3      // classes of EN 12237 that can be reached by sealing what is built: A, B and C; common practice, no source
)

// seals makes seams tighter: of each drop, of the trunk, and of everything, to the next class of EN 12237, everything also
// to the tightest that can be reached; and closes plain holes.
func seals(c *shop.Collector) []change {
	var out []change
	groups := seamGroups(c)
	for _, g := range groups {
		out = append(out, sealTo(g.what, g.runs, nextClass(g.runs))...)
	}
	whole := seams{what: "every seam"}
	for _, r := range c.Network.Runs {
		if !r.Flexible {
			whole.runs = append(whole.runs, r)
		}
	}
	if len(groups) == 1 {
		whole.what = groups[0].what
	} else {
		out = append(out, sealTo(whole.what, whole.runs, nextClass(whole.runs))...)
	}
	if class := nextClass(whole.runs); class >= 0 && class < sealedTo-1 {
		out = append(out, sealTo(whole.what, whole.runs, sealedTo-1)...)
	}
	return append(out, holes(c)...)
}

// seams are those of runs that are sealed at once.
type seams struct {
	what string
	runs []*shop.Run
}

// seamGroups are the drops and the trunk.
func seamGroups(c *shop.Collector) []seams {
	var out []seams
	for _, d := range drops(c) {
		if len(d.pipe) > 0 {
			out = append(out, seams{"the seams of " + span(d.pipe), d.pipe})
		}
	}
	main := seams{what: "the seams of the trunk"}
	trunk := trunkRuns(c)
	for _, r := range c.Network.Runs {
		if trunk[r] {
			main.runs = append(main.runs, r)
		}
	}
	if len(main.runs) > 0 {
		out = append(out, main)
	}
	return out
}

// sealTo seals those of the runs that leak more than a class allows; none, where none does.
func sealTo(what string, runs []*shop.Run, class int) []change {
	if class < 0 {
		return nil
	}
	to := shop.Leakage{Class: shop.Classes[class].Name, C: shop.Classes[class].C, N: usualExponent}
	var names []string
	surface := 0.0
	for _, r := range runs {
		if leaks(r.Tightness) > leaks(to)*sealedBy {
			names = append(names, r.Name)
			surface += math.Pi * r.Diameter * r.Length
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []change{{
		kind: Seal, place: what,
		text:    fmt.Sprintf("seal %s to class %s (%.2g m² of duct)", what, to.Class, surface),
		assumes: []string{"the seams leak as designed now, and as their new class allows afterwards (EN 12237)"},
		draw: func(d *draft) {
			for _, n := range names {
				d.Run(n).Tightness = to
			}
			d.bought.add(sealing, 0, surface)
		},
	}}
}

// usualExponent is that of the classes (EN 12237).
const usualExponent = 0.65

// nextClass is the class to which runs are sealed next, by its place in shop.Classes: the first that the leakiest of them
// does not keep. -1: they keep all that can be reached.
func nextClass(runs []*shop.Run) int {
	for i, c := range shop.Classes[:sealedTo] {
		for _, r := range runs {
			if leaks(r.Tightness) > leaks(shop.Leakage{C: c.C, N: usualExponent})*sealedBy {
				return i
			}
		}
	}
	return -1
}

// leaks is what a square metre of duct lets in at sealReference, m³/s.
func leaks(l shop.Leakage) float64 {
	if !(l.C > 0) {
		return 0
	}
	return l.C * math.Pow(sealReference, l.N)
}

// holes closes plain holes.
func holes(c *shop.Collector) []change {
	var out []change
	for _, r := range c.Network.Runs {
		if !(r.Hole > 0) {
			continue
		}
		out = append(out, change{
			kind: Seal, place: "hole " + r.Name, text: fmt.Sprintf("close the hole of %s in %s", mm(r.Hole), r.Name),
			draw: func(d *draft) { d.Run(r.Name).Hole = 0 },
		})
	}
	return out
}

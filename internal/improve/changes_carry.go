package improve

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// What is told with larger pipe.
const (
	sameCoefficients = "stated loss coefficients hold in the new size, on its own velocity pressure"
	sameHood         = "the hood is not changed: it loses what it lost, at the same flow"
	newReducers      = "reducers of 30° where the sizes meet, or of the angle that was drawn there"
)

// shortDrop (m) is what stays in the old size at a machine to which the large pipe is carried.
const shortDrop = 1.0

// carryLarge carries large pipe on towards the machines: a drop up to its hose or up to its last metre, and the larger
// stretch of the trunk further out.
func carryLarge(c *shop.Collector) []change {
	var out []change
	for _, d := range drops(c) {
		switch {
		case len(d.pipe) == 0:
		case len(d.hose) > 0:
			for _, size := range d.sizes(d.pipe) {
				out = append(out, widening(CarryLarge, "pipe of "+d.machine, d.pipe, size,
					fmt.Sprintf("carry %s pipe from the trunk to the hose of %s (%s, now %s)", mm(size), d.machine, span(d.pipe), mm(narrowest(d.pipe))), sameCoefficients, newReducers))
			}
		case d.pipe[0].Length >= 1.5*shortDrop && d.pipe[0].To.Kind != shop.EndSelector:
			for _, size := range d.sizes(d.pipe) {
				out = append(out, toLastMetre(d, size))
			}
		}
	}
	for _, s := range stretches(c) {
		for k := 1; k < len(s.runs) && wider(s.most, s.diameter()); k++ {
			part := s.runs[k:]
			out = append(out, widening(CarryLarge, "trunk "+s.runs[0].Name, part, s.most,
				fmt.Sprintf("carry the %s pipe of the trunk on through %s (now %s)", mm(s.most), span(part), mm(s.diameter())), sameCoefficients, newReducers))
		}
	}
	return out
}

// toLastMetre carries large pipe to a short drop at a machine without hose.
func toLastMetre(dr drop, size float64) change {
	first, rest := dr.pipe[0].Name, dr.pipe[1:]
	return change{
		kind: CarryLarge, place: "pipe of " + dr.machine,
		text:    fmt.Sprintf("carry %s pipe from the trunk to within %s of %s (%s, now %s)", mm(size), metres(shortDrop), dr.machine, span(dr.pipe), mm(narrowest(dr.pipe))),
		assumes: []string{"hood and gate stay in the last metre, the elbows are in the large pipe", sameCoefficients, newReducers},
		draw: func(d *draft) {
			piece := d.split(d.Run(first), shortDrop)
			to := map[string]float64{piece.Name: size}
			for _, r := range rest {
				to[r.Name] = size
			}
			d.widen(to)
		},
	}
}

// sizes lists the diameters that are tried for runs of a drop: the next two sizes, and that of what they lead into.
func (d drop) sizes(runs []*shop.Run) []float64 {
	least, most := narrowest(runs), d.most
	if most == 0 {
		most = sizes[len(sizes)-1]
	}
	out := larger(least, most, 2)
	if d.most > 0 && d.most >= least*(1+worthwhile) && (len(out) == 0 || wider(d.most, out[len(out)-1])) {
		out = append(out, d.most)
	}
	return out
}

// narrowest is the smallest diameter of runs.
func narrowest(runs []*shop.Run) float64 {
	least := math.Inf(1)
	for _, r := range runs {
		least = math.Min(least, r.Diameter)
	}
	return least
}

// widening is a change that draws runs in a larger size.
func widening(kind Kind, place string, runs []*shop.Run, size float64, text string, assumes ...string) change {
	to := map[string]float64{}
	for _, r := range runs {
		to[r.Name] = size
	}
	return change{kind: kind, place: place, text: text, assumes: assumes, draw: func(d *draft) { d.widen(to) }}
}

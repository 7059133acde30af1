package improve

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// entries gives duct ends something better: a flange, or a bell mouth; and opens those that are narrower than the pipe.
func entries(c *shop.Collector) []change {
	var out []change
	for _, r := range c.Network.Runs {
		for i, f := range r.Fittings {
			if f.Kind != shop.Entry {
				continue
			}
			for _, better := range []shop.EntryKind{shop.FlangedEntry, shop.BellmouthEntry} {
				if better > f.Entry || f.Entry == shop.OrificeEntry {
					out = append(out, betterEntry(r.Name, i, f, better))
				}
			}
		}
	}
	return out
}

func betterEntry(name string, i int, f shop.Fitting, better shop.EntryKind) change {
	end := map[shop.EntryKind]string{shop.FlangedEntry: "a flange", shop.BellmouthEntry: "a bell mouth"}[better]
	text := fmt.Sprintf("give the flanged entry of %s %s", name, end)
	switch f.Entry {
	case shop.PlainEntry:
		text = fmt.Sprintf("give the plain entry of %s %s", name, end)
	case shop.OrificeEntry:
		text = fmt.Sprintf("open the hole of %s before %s to the width of the pipe, with %s", mm(f.Bore), name, end)
	}
	return change{
		kind: BetterEntry, place: "entry " + name, text: text, assumes: []string{"the hood has room for it, and catches as much of the dust"},
		draw: func(d *draft) {
			run := d.Run(name)
			own := &run.Fittings[i]
			own.Entry, own.Bore, own.RadiusRatio = better, 0, 0
			d.bought.add(entry, run.Diameter, 1)
		},
	}
}

const (
	abrupt     = 60 * math.Pi / 180 // rad: the full angle of a cone from which it is worth a longer one
	gentleCone = 30 * math.Pi / 180 // rad: the full angle of a cone that is put in
)

// tapers puts a longer cone where a step in diameter is abrupt.
func tapers(c *shop.Collector) []change {
	var out []change
	for _, r := range c.Network.Runs {
		for i, f := range r.Fittings {
			if f.Kind != shop.Contraction && f.Kind != shop.Expansion || f.Angle < abrupt {
				continue
			}
			from, to := r.Diameter, f.LargeDiameter
			if f.Kind == shop.Contraction {
				from, to = to, from
			}
			out = append(out, change{
				kind: TaperedStep, place: fmt.Sprintf("step %s %s", r.Name, mm(f.LargeDiameter)),
				text:    fmt.Sprintf("taper the step from %s to %s in %s to a cone of %s", mm(from), mm(to), r.Name, degrees(gentleCone)),
				assumes: []string{"there is room for the longer cone"},
				draw: func(d *draft) {
					d.Run(r.Name).Fittings[i].Angle = gentleCone
					d.bought.add(reducer, f.LargeDiameter, 1)
				},
			})
		}
	}
	return out
}

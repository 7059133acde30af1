package improve

import (
	"math"
	"slices"

	"ductward/internal/shop"
)

// collectorSpigot (m) is the length of pipe of the old size that stays at the collector's inlet, which is as wide as it
// was, when a larger pipe leads to it.
const collectorSpigot = 0.2

// widen draws larger pipe: each named run gets its new diameter (m), where that is larger. What stays is
//
//   - every coefficient, on the velocity pressure in the new diameter, and every radius and spacing in diameters or metres
//     as it was (the fittings are bought anew in the new size);
//   - what a measured hood loses at its flow, and what a stated hood coefficient at the beginning of a machine's run comes
//     to at any flow, since the hood is not changed;
//   - what passes a shut gate.
//
// The steps at both ends, which name the diameters on either side, are drawn anew.
func (d *draft) widen(to map[string]float64) {
	old := map[string]float64{}
	for _, r := range d.Network.Runs {
		old[r.Name] = r.Diameter
	}
	for _, r := range d.Network.Runs {
		if wider(to[r.Name], r.Diameter) {
			d.widenRun(r, to[r.Name])
		}
	}
	for _, r := range slices.Clone(d.Network.Runs) {
		for _, n := range next(d.Collector, r) {
			if r.Diameter != old[r.Name] || n.Diameter != old[n.Name] {
				d.refit(r, n, old)
			}
		}
		if r.To.Kind == shop.EndCollector && r.Diameter != old[r.Name] {
			d.reduceAtCollector(r, old[r.Name])
		}
	}
	d.buyJunctions(old)
}

func (d *draft) widenRun(r *shop.Run, diameter float64) {
	ratio := diameter / r.Diameter
	d.renew(r.Name)
	hood := r.From.Kind == shop.EndMachine || movedHose(d.Collector, r)
	for i := range r.Fittings {
		f := &r.Fittings[i]
		switch {
		case f.Kind == shop.FixedLoss && hood && i == 0:
			f.Coefficient *= math.Pow(ratio, 4)
		case f.Kind == shop.Elbow:
			f.Spacing /= ratio
			d.bought.add(elbow, diameter, 1)
		case f.Kind == shop.Entry:
			d.bought.add(entry, diameter, 1)
		}
	}
	if g := d.Gate(r.Gate); g != nil {
		g.Bore *= ratio
		d.bought.add(gate, diameter, 1)
	}
	r.Diameter = diameter
	d.bought.add(pipe, diameter, r.Length)
}

// refit draws the step between two runs that follow each other, of which at least one has another diameter than before.
// At a junction, where the wye itself knows the diameters, only a step that was drawn there is drawn anew.
func (d *draft) refit(r, n *shop.Run, old map[string]float64) {
	angle, had := gentleCone, false
	cone := func(run *shop.Run, kind shop.FittingKind, large float64) {
		i := slices.IndexFunc(run.Fittings, func(f shop.Fitting) bool { return f.Kind == kind && alike(f.LargeDiameter, large) })
		if i >= 0 {
			angle, had = run.Fittings[i].Angle, true
			run.Fittings = slices.Delete(run.Fittings, i, i+1)
		}
	}
	if wider(old[n.Name], old[r.Name]) {
		cone(r, shop.Expansion, old[n.Name])
	} else if wider(old[r.Name], old[n.Name]) {
		cone(n, shop.Contraction, old[r.Name])
	}
	if !had && r.To.Kind != shop.EndRun {
		return
	}
	switch {
	case wider(n.Diameter, r.Diameter):
		r.Fittings = append(r.Fittings, shop.Fitting{Kind: shop.Expansion, LargeDiameter: n.Diameter, Angle: angle})
		d.bought.add(reducer, n.Diameter, 1)
	case wider(r.Diameter, n.Diameter):
		n.Fittings = slices.Insert(n.Fittings, 0, shop.Fitting{Kind: shop.Contraction, LargeDiameter: r.Diameter, Angle: angle})
		d.bought.add(reducer, r.Diameter, 1)
	}
}

// reduceAtCollector leads a run that became wider into the collector's inlet, which did not.
func (d *draft) reduceAtCollector(r *shop.Run, inlet float64) {
	piece := shop.Run{
		To: r.To, Diameter: inlet, Length: collectorSpigot, Material: r.Material, Roughness: r.Roughness, Stretch: 1,
		Tightness: r.Tightness, Rating: r.Rating, Line: r.Line,
		Fittings: []shop.Fitting{{Kind: shop.Contraction, LargeDiameter: r.Diameter, Angle: gentleCone}},
	}
	r.To = shop.End{Kind: shop.EndRun, Name: d.insert(r, piece, "reducer").Name}
	d.bought.add(reducer, r.Diameter, 1)
}

// buyJunctions puts every junction of which a leg became wider on the bill.
func (d *draft) buyJunctions(old map[string]float64) {
	for _, j := range d.Network.Junctions {
		at := shop.End{Kind: shop.EndJunction, Name: j.Name}
		for _, r := range d.Network.Runs {
			was, drawn := old[r.Name]
			if (r.To == at || r.From == at) && drawn && r.Diameter != was {
				d.bought.add(wye, widestAt(d.Collector, j.Name), 1)
				break
			}
		}
	}
}

// split parts a run that begins at a machine: so much of its length (m) stays with the hood and the gate under its old
// name, and the rest, with what is fitted behind the hood, becomes a run of its own.
func (d *draft) split(r *shop.Run, stays float64) *shop.Run {
	cut := slices.IndexFunc(r.Fittings, func(f shop.Fitting) bool { return f.Kind == shop.Elbow || f.Kind == shop.Expansion })
	if cut < 0 {
		cut = len(r.Fittings)
	}
	if stated := slices.IndexFunc(r.Fittings, func(f shop.Fitting) bool { return f.Kind == shop.FixedLoss }); stated >= 0 {
		cut = min(cut, stated+1) // of stated coefficients the first is the hood's
	}
	rest := *r
	rest.From, rest.Gate, rest.Hole = shop.End{}, "", 0
	rest.Length = r.Length - stays
	rest.Fittings = slices.Clone(r.Fittings[cut:])
	piece := d.insert(r, rest, "large")
	for _, j := range d.Network.Junctions {
		if j.Straight == r.Name {
			j.Straight = piece.Name
		}
		if j.Branch == r.Name {
			j.Branch = piece.Name
		}
	}
	r.Length, r.Fittings = stays, r.Fittings[:cut:cut]
	r.To = shop.End{Kind: shop.EndRun, Name: piece.Name}
	return piece
}

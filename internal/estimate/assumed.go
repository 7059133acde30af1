package estimate

import (
	"math"
	"slices"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// Where nobody has drawn the ducts, but the positions of the gates are known, the estimate assumes ducts: each gate has a drop of
// its own, all drops meet at one place, and a trunk goes from there to the collector. What a machine's drop and the trunk lose is
// learnt by the baseline like the errors of a drawing, of which these are larger; what such ducts cannot be is what each gate set
// lies from them. So a leak, a blocked drop and a gate left open are told from each other by what changes with which gates.
const (
	assumedTrunk   = "trunk (not drawn)" // as findings name it
	assumedJoint   = "joint"
	assumedSpeed   = 20.0       // m/s, for which ducts are sized (common practice, no source)
	assumedLength  = 5.0        // m of trunk: as leaky as ten of a tighter class
	assumedLoss    = 1.5        // velocity pressures that the trunk's bends lose
	assumedHood    = 0.6        // share of a drop's loss that lies before its gate
	assumedSeat    = 3.0 / 3600 // m³/s at 1500 Pa, of a gate of which the shop file says nothing
	dropOtherwise  = 0.6        // of the log of a drop's loss against the assumed
	trunkOtherwise = 0.7        // and of the trunk's
	assumedNeeds   = 0.5        // of the filter's flow, of a machine of which nobody says what it needs
	roughnessDuct  = 9e-5       // m
	mostAssumed    = 9.0        // of the log of a loss that is looked for
)

// assumed returns a collector with assumed ducts in place of a drawing; nil where there is one, or too little is known.
func assumed(c *shop.Collector, l *lump) *shop.Collector {
	if c.Network != nil || l == nil || len(c.Selectors) > 0 || !gatesKnown(c) {
		return nil
	}
	out := *c
	out.Network = &shop.Network{Junctions: []*shop.Junction{{Name: assumedJoint, Kind: shop.Lossless}}}
	out.Machines, out.Gates = nil, nil
	trunk := l.trunk()
	for _, g := range c.Gates {
		m, gate := machineAt(c, g), *g
		if gate.SeatLeak == 0 {
			gate.SeatLeak = assumedSeat
		}
		side, drop, ok := l.dropOf(&gate, m, trunk)
		if !ok {
			return nil
		}
		out.Machines, out.Gates = append(out.Machines, m), append(out.Gates, &gate)
		out.Network.Runs = append(out.Network.Runs, side, drop)
	}
	out.Network.Runs = append(out.Network.Runs, trunk)
	return &out
}

// gatesKnown tells whether something tells the positions of all gates, and there are any.
func gatesKnown(c *shop.Collector) bool {
	for _, g := range c.Gates {
		if g.Position == nil {
			return false
		}
	}
	return len(c.Gates) > 0
}

// machineAt returns the machine whose gate it is, or one of the gate's own name where none is known to be.
func machineAt(c *shop.Collector, g *shop.Gate) *shop.Machine {
	for _, m := range c.Machines {
		if slices.Contains(c.MachineGates(m.Name), g.Name) {
			return m
		}
	}
	return &shop.Machine{Name: g.Name, Needs: math.NaN()}
}

// trunk returns the assumed trunk.
func (l *lump) trunk() *shop.Run {
	return &shop.Run{
		Name: assumedTrunk, From: shop.End{Kind: shop.EndJunction, Name: assumedJoint}, To: shop.End{Kind: shop.EndCollector},
		Diameter: l.diameter, Length: assumedLength, Roughness: roughnessDuct, Stretch: 1, Rating: math.NaN(),
		Fittings:  []shop.Fitting{{Kind: shop.FixedLoss, Coefficient: assumedLoss}},
		Tightness: shop.Leakage{Class: "A", C: 0.027e-3, N: 0.65},
	}
}

// dropOf returns the assumed drop of a gate: with it alone open, the machine draws what it needs.
func (l *lump) dropOf(g *shop.Gate, m *shop.Machine, trunk *shop.Run) (side, drop *shop.Run, ok bool) {
	needs := m.Needs
	if !(needs > 0) {
		needs = assumedNeeds * l.cleanFlow
	}
	loss, ok := l.lossAt(needs)
	if !ok {
		return nil, nil, false
	}
	speed := needs / (math.Pi / 4 * trunk.Diameter * trunk.Diameter)
	loss = max(loss-assumedLoss*0.6*speed*speed, 0.2*loss)
	d := math.Sqrt(4 * needs / (math.Pi * assumedSpeed))
	piece := func(name string, share float64) *shop.Run {
		return &shop.Run{
			Name: name, Diameter: d, Length: 1, Roughness: roughnessDuct, Stretch: 1, Rating: math.NaN(),
			Fittings:  []shop.Fitting{{Kind: shop.MeasuredLoss, MeasuredDrop: share * loss, MeasuredFlow: needs}},
			Tightness: shop.Leakage{Class: "none"},
		}
	}
	side, drop = piece(g.Name+" hood", assumedHood), piece(g.Name+" drop", 1-assumedHood)
	side.From, side.To = shop.End{Kind: shop.EndMachine, Name: m.Name}, shop.End{Kind: shop.EndRun, Name: drop.Name}
	drop.To, drop.Gate = shop.End{Kind: shop.EndJunction, Name: assumedJoint}, g.Name
	return side, drop, true
}

// lossAt finds what the ducts must lose for a flow to pass with a clean filter, by halving.
func (l *lump) lossAt(flow float64) (float64, bool) {
	low, high := -mostAssumed, mostAssumed
	var loss float64
	for range 60 {
		x := (low + high) / 2
		res, err := l.model.Solve(duct.State{FilterRatio: 1, LossFactor: math.Exp(x), FanSpeed: 1})
		if err != nil {
			return 0, false
		}
		loss = res.Runs[0].Loss
		if res.FanFlow > flow {
			low = x
		} else {
			high = x
		}
	}
	return loss, loss > 0
}

package duct

import (
	"math"

	"ductward/internal/shop"
)

// machines finds each machine's hoods and its drop.
func (b *builder) machines() error {
	for _, machine := range b.c.Machines {
		parts := machineParts{machine: machine, port: -1}
		for i, r := range b.c.Network.Runs {
			if r.From.Kind == shop.EndMachine && r.From.Name == machine.Name {
				parts.hoods = append(parts.hoods, b.enters(i))
				parts.drop = append(parts.drop, b.drop(i)...)
			}
		}
		for i, s := range b.c.Selectors {
			for k, port := range s.Ports {
				if !s.Hose || port != machine.Name {
					continue
				}
				parts.port = b.m.ports[i][k]
				parts.hoods = append(parts.hoods, parts.port)
				for j, r := range b.c.Network.Runs {
					if r.From.Kind == shop.EndSelector && r.From.Name == s.Name {
						parts.hose = append(parts.hose, b.drop(j)...)
					}
				}
			}
		}
		b.m.machines = append(b.m.machines, parts)
	}
	return nil
}

// enters is the edge by which air enters run i.
func (b *builder) enters(i int) int32 {
	if h := b.m.runs[i].hood; h >= 0 {
		return h
	}
	return b.m.runs[i].first
}

// drop lists the edges from the start of run i up to the first joint.
func (b *builder) drop(i int) []int32 {
	var out []int32
	for steps := 0; steps <= len(b.m.runs); steps++ {
		r := b.m.runs[i]
		if r.hood >= 0 {
			out = append(out, r.hood)
		}
		out = append(out, r.first)
		if r.second != r.first {
			out = append(out, r.second)
		}
		next, ok := b.follows(i)
		if !ok {
			break
		}
		i = next
	}
	return out
}

// follows is the run that carries on where run i ends, if just one does and nothing else ends there.
func (b *builder) follows(i int) (next int, ok bool) {
	to := b.c.Network.Runs[i].To
	if to.Kind != shop.EndRun {
		return 0, false
	}
	next = b.index[to.Name]
	for k, r := range b.c.Network.Runs {
		if k != i && r.To.Kind == shop.EndRun && r.To.Name == to.Name {
			return 0, false
		}
	}
	return next, true
}

// leaks lists what can leak, in the order of the file, and the leakage as designed.
func (b *builder) leaks() error {
	for _, r := range b.m.runs {
		if r.first == r.second {
			continue // nothing leaks here
		}
		part := b.part("run:"+r.run.Name, b.spot(r.middle, r.first))
		if t := r.run.Tightness; t.C > 0 {
			n := t.N
			if !(n > 0) {
				n = usualExponent
			}
			surface := math.Pi * r.run.Diameter * r.run.Length
			b.design(part, leakLaw{c: t.C * surface, n: n})
		}
		if d := r.run.Hole; d > 0 {
			b.design(part, holeLaw(d))
		}
	}
	for i, g := range b.c.Gates {
		b.seat(g.Name, g.SeatLeak, g.SeatN, b.m.gates[i])
		for _, r := range b.m.runs {
			if r.run.Gate == g.Name && !b.sparse {
				b.part("drop:"+g.Name, b.spot(r.middle, r.first))
				break
			}
		}
	}
	for i, s := range b.c.Selectors {
		b.seat(s.Name, s.SeatLeak, 0, b.m.ports[i])
	}
	for _, machine := range b.m.machines {
		if at, ok := b.openSide(machine); ok && !b.sparse {
			b.part("open-side:"+machine.machine.Name, at)
		}
	}
	if !b.sparse {
		b.part("inlet:"+b.c.Name, b.spot(b.m.inlet, b.lastEdge()))
	}
	return nil
}

// lastEdge is the edge that ends at the collector, -1 where several do. What leaks at the inlet, past every tap of the
// ducts, is the joint with the collector, the separator's housing or the lid of its bin.
func (b *builder) lastEdge() int32 {
	last := int32(-1)
	for _, r := range b.m.runs {
		if b.m.edges[r.second].to != b.m.inlet {
			continue
		}
		if last >= 0 {
			return -1
		}
		last = r.second
	}
	return last
}

// seat adds the part across the shut edges of a gate or selector.
func (b *builder) seat(name string, flow, exponent float64, edges []int32) {
	if len(edges) == 0 {
		return
	}
	part := b.part("seat:"+name, -1)
	b.m.parts[part].seats = edges
	if flow > 0 {
		for _, e := range edges {
			law := atReference(flow, seatReference, exponent)
			b.m.designed = append(b.m.designed, placedLeak{law: law, part: part, spot: -1, edge: e})
		}
	}
}

func (b *builder) part(name string, spot int32) int32 {
	b.m.parts = append(b.m.parts, leakPart{name: name, spot: spot})
	return int32(len(b.m.parts) - 1)
}

func (b *builder) design(part int32, law leakLaw) {
	b.m.designed = append(b.m.designed, placedLeak{law: law, part: part, spot: b.m.parts[part].spot, edge: -1})
}

// spot is the number of a place for leaks.
func (b *builder) spot(node, carrier int32) int32 {
	for i, s := range b.m.spots {
		if s.node == node && s.carrier == carrier {
			return int32(i)
		}
	}
	b.m.spots = append(b.m.spots, spot{node, carrier})
	return int32(len(b.m.spots) - 1)
}

// openSide is where a machine's open side leaks: right before the first gate on its drop, or in the middle of its first
// run where the drop has no gate.
func (b *builder) openSide(machine machineParts) (int32, bool) {
	drop := machine.drop
	if len(drop) == 0 {
		drop = machine.hose
	}
	if len(drop) == 0 {
		return 0, false
	}
	for i, e := range drop {
		gate := b.m.edges[e]
		if !gate.gated || gate.from == room {
			continue
		}
		carrier := machine.port
		if i > 0 {
			carrier = drop[i-1]
		}
		return b.spot(gate.from, carrier), true
	}
	for _, e := range drop {
		for _, r := range b.m.runs {
			if r.first == e {
				return b.spot(r.middle, r.first), true
			}
		}
	}
	return 0, false
}

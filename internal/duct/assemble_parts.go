package duct

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/shop"
)

// openSelectorLoss is the loss coefficient of a selector's open port, taken as that of an open gate: common practice,
// no source. A moved hose loses nothing where it is plugged on.
const openSelectorLoss = 0.05

// runs makes the edges of every run, and which of them each gate shuts.
func (b *builder) runs() error {
	b.m.gates = make([][]int32, len(b.c.Gates))
	for i, r := range b.c.Network.Runs {
		first, second, err := halves(r)
		if err != nil {
			return fmt.Errorf("run %q: %w", r.Name, err)
		}
		parts := runParts{run: r, hood: -1, start: b.nodeAt(b.startOf(i))}
		from := parts.start
		tight := b.sparse && b.standsStill(r)
		if r.Gate != "" && from == room && !tight {
			// The hood stands before the gate: the air between them is where the machine's open side leaks.
			entry := pipe{area: first.area, diameter: first.diameter, head: first.head}
			first.head = 0
			from = b.newNode(fmt.Sprintf("run %q before its gate", r.Name))
			parts.hood = b.newEdge(room, from, entry, r.Name)
		} else if r.Gate != "" && from == room {
			first.more = 1
		}
		if tight && !(r.Tightness.C > 0) {
			parts.middle = b.nodeAt(b.endOf(i))
			parts.first = b.newEdge(from, parts.middle, inOne(first, second), r.Name)
			parts.second = parts.first
		} else {
			parts.middle = b.newNode(fmt.Sprintf("the middle of run %q", r.Name))
			parts.first = b.newEdge(from, parts.middle, first, r.Name)
			parts.second = b.newEdge(parts.middle, b.nodeAt(b.endOf(i)), second, r.Name)
		}
		if r.Gate != "" {
			if err := b.gate(r, parts.first); err != nil {
				return err
			}
		}
		b.m.runs = append(b.m.runs, parts)
	}
	return nil
}

// standsStill tells that a run without its middle is no other than with it while its gate is shut, since nothing passes.
func (b *builder) standsStill(r *shop.Run) bool {
	if r.Gate == "" {
		return true
	}
	g := find(b.c.Gates, func(g *shop.Gate) bool { return g.Name == r.Gate })
	return g != nil && !(g.SeatLeak > 0)
}

func (b *builder) gate(r *shop.Run, e int32) error {
	i := slices.IndexFunc(b.c.Gates, func(g *shop.Gate) bool { return g.Name == r.Gate })
	if i < 0 {
		return fmt.Errorf("run %q has gate %q, which there is none of", r.Name, r.Gate)
	}
	k, err := gateLoss(b.c.Gates[i], r.Diameter)
	if err != nil {
		return err
	}
	b.m.edges[e].pipe.head += k
	b.m.edges[e].gated = true
	b.m.gates[i] = append(b.m.gates[i], e)
	return nil
}

// selectors makes an edge of each port, as wide as the run that the selector feeds.
func (b *builder) selectors() error {
	b.m.ports = make([][]int32, len(b.c.Selectors))
	for i, s := range b.c.Selectors {
		fed := find(b.c.Network.Runs, func(r *shop.Run) bool {
			return r.From.Kind == shop.EndSelector && r.From.Name == s.Name
		})
		if fed == nil {
			return fmt.Errorf("selector %q: no run begins at it", s.Name)
		}
		p := pipe{area: circle(fed.Diameter), diameter: fed.Diameter}
		outlet := b.nodeAt(b.outlet[s.Name])
		for k := range s.Ports {
			from := int32(room)
			if !s.Hose {
				p.head = openSelectorLoss
				from = b.nodeAt(b.portEnd[s.Name][k])
			}
			e := b.newEdge(from, outlet, p, s.Name)
			b.m.edges[e].gated = true
			b.m.ports[i] = append(b.m.ports[i], e)
		}
	}
	b.m.inlet = b.nodeAt(b.inletEnd)
	b.newEdge(b.m.inlet, room, pipe{}, "the collector")
	return nil
}

// wyes makes the joints that have losses of their own.
func (b *builder) wyes() error {
	legs := b.legs()
	for _, j := range b.c.Network.Junctions {
		if j.Kind == shop.Lossless {
			continue
		}
		leaves := find(b.c.Network.Runs, func(r *shop.Run) bool {
			return r.From.Kind == shop.EndJunction && r.From.Name == j.Name
		})
		if leaves == nil {
			return fmt.Errorf("wye %q: no run leaves it", j.Name)
		}
		s, okS := b.index[j.Straight]
		br, okB := b.index[j.Branch]
		if !okS || !okB || s == br || !b.endsAt(s, j.Name) || !b.endsAt(br, j.Name) {
			return fmt.Errorf("wye %q: straight run %q and branch run %q must be two runs that end at it", j.Name, j.Straight, j.Branch)
		}
		if !(j.Angle > 0 && j.Angle <= math.Pi/2+1e-9) {
			return fmt.Errorf("wye %q: angle %g rad between branch and main must be above 0 and at most 90°", j.Name, j.Angle)
		}
		if n := legs[j.Name]; n != 3 {
			return fmt.Errorf("wye %q joins %d runs; it must be a straight run, a branch run and one that leaves", j.Name, n)
		}
		straight, branch := b.m.runs[s], b.m.runs[br]
		b.m.joints = append(b.m.joints, newJunction(j, straight.second, branch.second,
			circle(straight.run.Diameter), circle(branch.run.Diameter), circle(leaves.Diameter)))
	}
	return nil
}

func (b *builder) endsAt(run int, junction string) bool {
	to := b.c.Network.Runs[run].To
	return to.Kind == shop.EndJunction && to.Name == junction
}

// legs counts the runs that meet at each junction.
func (b *builder) legs() map[string]int {
	n := map[string]int{}
	for _, r := range b.c.Network.Runs {
		for _, end := range [2]shop.End{r.From, r.To} {
			if end.Kind == shop.EndJunction {
				n[end.Name]++
			}
		}
	}
	return n
}

// reach checks that every node is joined to the collector.
func (b *builder) reach() error {
	if b.m.inletArea == 0 {
		return fmt.Errorf("no run ends at the collector")
	}
	touching := b.m.neighbours()
	seen := make([]bool, len(b.m.nodes))
	seen[b.m.inlet] = true
	for queue := []int32{b.m.inlet}; len(queue) > 0; queue = queue[1:] {
		for _, next := range touching[queue[0]] {
			if !seen[next] {
				seen[next] = true
				queue = append(queue, next)
			}
		}
	}
	for i, s := range seen {
		if !s {
			return fmt.Errorf("%s is not joined to the collector", b.m.nodes[i])
		}
	}
	return nil
}

// neighbours lists by node the nodes to which an edge leads.
func (m *Model) neighbours() [][]int32 {
	out := make([][]int32, len(m.nodes))
	for _, e := range m.edges {
		if e.from != room && e.to != room {
			out[e.from], out[e.to] = append(out[e.from], e.to), append(out[e.to], e.from)
		}
	}
	return out
}

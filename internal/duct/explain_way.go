package duct

import (
	"errors"
	"slices"
)

// recalled is the memory of the solve that led to a result, at its solution and in the layout in which it was solved. It
// goes back to that layout's pool.
func (m *Model) recalled(r *Result) (*work, error) {
	if r == nil || !m.made(r) {
		return nil, errors.New("to explain a result takes the model that solved it")
	}
	w := r.state.model.work.Get().(*work)
	if err := w.recall(r); err != nil {
		w.m.work.Put(w)
		return nil, err
	}
	return w, nil
}

// leg is one edge of a way, with +1 where the air goes from its start to its end and -1 where it goes back.
type leg struct {
	edge int32
	sign float64
}

// way lists the edges along which the air of a machine goes to the room, nil where it has none. It follows the larger
// flow where the air parts.
func (w *work) way(parts *machineParts) []leg {
	hood := int32(-1)
	for _, e := range w.hoods(parts) {
		if hood < 0 || w.q[e] > w.q[hood] {
			hood = e
		}
	}
	if hood < 0 {
		return nil
	}
	clear(w.seen)
	way := w.back(leg{hood, 1})
	slices.Reverse(way)
	return way
}

// hoods lists the edges by which air enters a machine that is joined to the collector.
func (w *work) hoods(parts *machineParts) []int32 {
	w.flood()
	var out []int32
	for _, e := range parts.hoods {
		if w.open[e] && w.q[e] > 0 && w.seen[w.m.edges[e].to] {
			out = append(out, e)
		}
	}
	return out
}

// back is the way from the room back to a leg, that leg included; nil: there is none. w.seen marks the nodes at which it has
// been: wyes may drive air round in a ring, and then the largest flow leads back.
func (w *work) back(to leg) []leg {
	if int(to.edge) == len(w.m.edges)-1 {
		return []leg{to}
	}
	node := w.ends(to)
	if node == room || w.seen[node] {
		return nil
	}
	w.seen[node] = true
	for _, next := range w.leaving(node) {
		if way := w.back(next); way != nil {
			return append(way, to)
		}
	}
	return nil
}

// ends is the node to which a leg leads.
func (w *work) ends(l leg) int32 {
	if l.sign > 0 {
		return w.m.edges[l.edge].to
	}
	return w.m.edges[l.edge].from
}

// leaving lists the open edges by which air leaves a node, the largest flow first.
func (w *work) leaving(node int32) []leg {
	var out []leg
	for _, e := range w.m.touching[node] {
		sign := 1.0
		if w.m.edges[e].to == node {
			sign = -1
		}
		if w.open[e] && sign*w.q[e] > 0 {
			out = append(out, leg{e, sign})
		}
	}
	slices.SortStableFunc(out, func(a, b leg) int {
		switch qa, qb := a.sign*w.q[a.edge], b.sign*w.q[b.edge]; {
		case qa > qb:
			return -1
		case qa < qb:
			return 1
		}
		return 0
	})
	return out
}

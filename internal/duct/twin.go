package duct

import "ductward/internal/shop"

// twin is a second layout of a model's ducts, and the way between the two. Where nothing leaks in the middle of a run
// as designed, only an added leak needs a node there, or the one between a hood and its gate. States without added
// leaks are solved in the sparse layout, which leaves those nodes out, all others in the full one. Each layout knows the
// other as its twin.
type twin struct {
	other *Model
	full  bool    // this layout is the full one
	edge  []int32 // by edge of the full layout: that of the sparse one
	node  []int32 // by node of the sparse layout and the room: that of the full one
}

// pair gives a full model its sparse twin, where there is something to leave out.
func (m *Model) pair(c *shop.Collector, col *collector) error {
	sparse, err := build(c, col, true)
	if err != nil || len(sparse.edges) == len(m.edges) {
		return err
	}
	edge := make([]int32, len(m.edges))
	node := make([]int32, len(sparse.nodes)+1)
	match := func(full, s int32) {
		edge[full] = s
		node[sparse.from[s]] = m.from[full]
	}
	for i := range m.runs {
		f, s := &m.runs[i], &sparse.runs[i]
		node[sparse.to[s.second]] = m.to[f.second]
		match(f.first, s.first)
		if f.hood >= 0 {
			match(f.hood, s.first)
			if s.hood >= 0 {
				match(f.first, s.first)
				match(f.hood, s.hood)
			}
		}
		if s.second != s.first {
			match(f.second, s.second)
		} else {
			edge[f.second] = s.second
		}
	}
	for i := range m.ports {
		for k, f := range m.ports[i] {
			match(f, sparse.ports[i][k])
		}
	}
	node[len(sparse.nodes)] = int32(len(m.nodes)) // the room
	match(int32(len(m.edges)-1), int32(len(sparse.edges)-1))
	m.twin = &twin{other: sparse, full: true, edge: edge, node: node}
	sparse.twin = &twin{other: m, edge: edge, node: node}
	return nil
}

// layout is the layout in which a state is solved.
func (m *Model) layout(st *State) *Model {
	if m.twin != nil && m.twin.full && len(st.Leaks) == 0 {
		return m.twin.other
	}
	return m
}

// made tells that a result is this model's, in whichever layout.
func (m *Model) made(r *Result) bool {
	return r.state.model == m || r.state.model != nil && m.twin != nil && r.state.model == m.twin.other
}

// adopt takes over the flows and pressures of an earlier result, if it is this model's.
func (w *work) adopt(from *Result) bool {
	t := w.m.twin
	switch {
	case !w.m.made(from):
		return false
	case from.state.model == w.m:
		copy(w.q, from.state.flow)
		copy(w.p, from.state.pressure)
		copy(w.friction, from.state.friction)
	case t.full:
		w.unfold(t, &from.state)
	default:
		for i, s := range t.edge {
			w.q[s] = from.state.flow[i]
		}
		for i, f := range t.node {
			w.p[i] = from.state.pressure[f]
		}
	}
	return true
}

// unfold takes over a state of the sparse layout. The pressure of a node that it does not have is that of the run's end
// and what is lost up to there.
func (w *work) unfold(t *twin, s *solved) {
	for i, at := range t.edge {
		w.q[i] = s.flow[at]
	}
	for i, f := range t.node {
		w.p[f] = s.pressure[i]
	}
	for i := range w.m.runs {
		f, s := &w.m.runs[i], &t.other.runs[i]
		if f.hood >= 0 && s.hood < 0 {
			w.p[w.m.to[f.hood]] = 0
		}
		if s.first == s.second {
			w.p[w.m.to[f.first]] = w.p[w.m.to[f.second]]
		}
	}
	w.evaluate()
	for i := range w.m.runs {
		f, s := &w.m.runs[i], &t.other.runs[i]
		if f.hood >= 0 && s.hood < 0 {
			w.p[w.m.to[f.hood]] -= w.loss[f.hood]
		}
		if s.first == s.second {
			w.p[w.m.to[f.first]] = w.p[w.m.to[f.second]] + w.loss[f.second] + w.lostAtWye(f.second)
		}
	}
}

package duct

import "ductward/internal/air"

// places says where in the matrix each edge and each joint adds.
type places struct {
	edge  []edgePlace
	joint []jointPlace
}

// edgePlace holds the places of (from, from), (to, to), (from, to) and (to, from). What belongs to the room has the
// place after the last.
type edgePlace struct{ from, to, fromTo, toFrom int32 }

// jointPlace holds the places by which the flow of one leg depends on the other leg's ends: the rows are the ends of
// the first edge, from and to, the columns those of the second.
type jointPlace struct{ sb, bs [4]int32 }

// arrange renumbers the nodes in an order of elimination that makes little fill, and finds every place in the matrix.
func (b *builder) arrange() {
	m := b.m
	order := degreeOrder(len(m.nodes), m.links())
	rank := make([]int32, len(order))
	names := make([]string, len(order))
	for i, node := range order {
		rank[node] = int32(i)
		names[i] = m.nodes[node]
	}
	m.nodes = names
	m.renumber(rank)
	m.pattern = newPattern(len(m.nodes), m.links())
	for _, e := range m.edges {
		m.places.edge = append(m.places.edge, edgePlace{
			m.place(e.from, e.from), m.place(e.to, e.to), m.place(e.from, e.to), m.place(e.to, e.from),
		})
		m.from, m.to = append(m.from, m.orRoom(e.from)), append(m.to, m.orRoom(e.to))
	}
	m.leg = make([]legPlace, len(m.edges))
	for i := range m.leg {
		m.leg[i].joint = -1
	}
	for k, j := range m.joints {
		m.leg[j.straight] = legPlace{joint: int32(k)}
		m.leg[j.branch] = legPlace{joint: int32(k), branch: true}
	}
	for _, s := range m.spots {
		square := 0.0
		if s.carrier >= 0 {
			area := m.edges[s.carrier].pipe.area
			square = 1 / (2 * area * area)
		}
		m.spotSquare = append(m.spotSquare, square)
	}
	for _, j := range m.joints {
		s, br := m.edges[j.straight], m.edges[j.branch]
		m.places.joint = append(m.places.joint, jointPlace{
			sb: [4]int32{m.place(s.from, br.from), m.place(s.from, br.to), m.place(s.to, br.from), m.place(s.to, br.to)},
			bs: [4]int32{m.place(br.from, s.from), m.place(br.from, s.to), m.place(br.to, s.from), m.place(br.to, s.to)},
		})
	}
	m.touching = make([][]int32, len(m.nodes))
	for i, e := range m.edges {
		for _, node := range [2]int32{e.from, e.to} {
			if node != room {
				m.touching[node] = append(m.touching[node], int32(i))
			}
		}
	}
}

// startValues finds the frictions from which a solve starts.
func (m *Model) startValues() {
	s := scene{air: air.Reference()}
	m.friction = make([]point, len(m.edges))
	for i := range len(m.edges) - 1 { // without the collector's
		p := &m.edges[i].pipe
		p.loss(dustSpeed*p.area, &s, &m.friction[i])
	}
}

// links lists which nodes meet in an equation.
func (m *Model) links() [][2]int32 {
	var out [][2]int32
	add := func(a, b int32) {
		if a != room && b != room && a != b {
			out = append(out, [2]int32{a, b})
		}
	}
	for _, e := range m.edges {
		add(e.from, e.to)
	}
	for _, j := range m.joints {
		s, b := m.edges[j.straight], m.edges[j.branch]
		for _, x := range [2]int32{s.from, s.to} {
			for _, y := range [2]int32{b.from, b.to} {
				add(x, y)
			}
		}
	}
	return out
}

func (m *Model) renumber(rank []int32) {
	change := func(node *int32) {
		if *node != room {
			*node = rank[*node]
		}
	}
	for i := range m.edges {
		change(&m.edges[i].from)
		change(&m.edges[i].to)
	}
	for i := range m.spots {
		change(&m.spots[i].node)
	}
	for i := range m.runs {
		change(&m.runs[i].middle)
		change(&m.runs[i].start)
	}
	change(&m.inlet)
}

// place is where entry (i, j) stands in a list of the matrix with one more number behind it.
func (m *Model) place(i, j int32) int32 {
	if i == room || j == room {
		return int32(m.pattern.len())
	}
	return m.pattern.at(i, j)
}

// orRoom is a node's place in a list of nodes with the room behind them.
func (m *Model) orRoom(node int32) int32 {
	if node == room {
		return int32(len(m.nodes))
	}
	return node
}

package plant

import (
	"fmt"
	"slices"
)

// ldl solves a symmetric positive definite system whose pattern is a graph of few loops. Nodes are eliminated from
// the tips of the graph inwards, which fills nothing in on a tree.
type ldl struct {
	n     int
	place []int     // node → place in the order of elimination
	below [][]int   // place k → places i > k that are not zero in column k, fill included
	a     []float64 // n×n, lower triangle, by place
	x     []float64
}

// newLDL chooses the order by least remaining neighbours and finds the fill.
func newLDL(n int, edges [][2]int) *ldl {
	next := make([]map[int]bool, n)
	for i := range next {
		next[i] = map[int]bool{}
	}
	for _, e := range edges {
		if e[0] != e[1] {
			next[e[0]][e[1]], next[e[1]][e[0]] = true, true
		}
	}
	l := &ldl{n: n, place: make([]int, n), below: make([][]int, n), a: make([]float64, n*n), x: make([]float64, n)}
	done := make([]bool, n)
	columns := make([][]int, n) // by place, of nodes
	for k := range n {
		best := -1
		for i := range n {
			if !done[i] && (best < 0 || len(next[i]) < len(next[best])) {
				best = i
			}
		}
		done[best] = true
		l.place[best] = k
		for i := range n {
			if next[best][i] {
				columns[k] = append(columns[k], i)
			}
		}
		join(next, best, columns[k])
	}
	for k, nodes := range columns {
		for _, i := range nodes {
			l.below[k] = append(l.below[k], l.place[i])
		}
		slices.Sort(l.below[k])
	}
	return l
}

// join takes a node out of the graph and joins its neighbours to each other.
func join(next []map[int]bool, out int, neighbours []int) {
	for _, i := range neighbours {
		delete(next[i], out)
		for _, j := range neighbours {
			if i != j {
				next[i][j] = true
			}
		}
	}
}

// clear sets the matrix to zero.
func (l *ldl) clear() { clear(l.a) }

// diag adds v to a node's diagonal.
func (l *ldl) diag(node int, v float64) {
	k := l.place[node]
	l.a[k*l.n+k] += v
}

// off adds v to the entry between two nodes that share an edge.
func (l *ldl) off(i, j int, v float64) {
	a, b := l.place[i], l.place[j]
	if a > b {
		a, b = b, a
	}
	l.a[b*l.n+a] += v
}

// solve factorises the matrix and replaces b, by node, by the solution.
func (l *ldl) solve(b []float64) error {
	n, a, x := l.n, l.a, l.x
	for node, k := range l.place {
		x[k] = b[node]
	}
	for k := range n {
		d := a[k*n+k]
		if !(d > 0) {
			return fmt.Errorf("plant: the network's matrix is not positive definite (pivot %g)", d)
		}
		for ci, i := range l.below[k] {
			f := a[i*n+k] / d
			if f == 0 {
				continue
			}
			x[i] -= f * x[k]
			for _, j := range l.below[k][:ci+1] {
				a[i*n+j] -= f * a[j*n+k]
			}
		}
	}
	for k := n - 1; k >= 0; k-- {
		v := x[k]
		for _, i := range l.below[k] {
			v -= a[i*n+k] * x[i]
		}
		x[k] = v / a[k*n+k]
	}
	for node, k := range l.place {
		b[node] = x[k]
	}
	return nil
}

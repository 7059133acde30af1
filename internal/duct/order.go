package duct

import (
	"container/heap"
	"slices"
)

// pattern is the place of every number of a sparse square matrix whose pattern is symmetric (its values need not be),
// with the fill of an elimination in the order of its rows. It is analysed once and shared by every solve.
//
// A matrix is one slice of len() numbers: the n of the diagonal, then the entries below it by column, then those right
// of it by row; entry k below and entry k right are mirror images.
type pattern struct {
	n     int
	start []int32 // of row i in next: start[i]..start[i+1]
	next  []int32 // the later rows that row i touches, rising
	into  []int32 // where the elimination of each row adds, in the order in which it goes
}

// degreeOrder is an order of elimination that makes little fill: always the node that touches the fewest others next
// (minimum degree), of several the one with the least number; on a tree it makes none. edges join the nodes 0..n-1. It
// gives the nodes in their order.
func degreeOrder(n int, edges [][2]int32) []int32 {
	touch := neighbours(n, edges)
	var waiting candidates
	for i := range n {
		waiting = append(waiting, candidate{len(touch[i]), int32(i)})
	}
	heap.Init(&waiting)
	done := make([]bool, n)
	order := make([]int32, 0, n)
	for len(order) < n {
		c := heap.Pop(&waiting).(candidate)
		if done[c.node] || c.degree != len(touch[c.node]) { // another entry tells its degree now
			continue
		}
		done[c.node] = true
		order = append(order, c.node)
		near := touch[c.node]
		fill(touch, c.node)
		for i := range near {
			heap.Push(&waiting, candidate{len(touch[i]), i})
		}
	}
	return order
}

// candidate is a node with the number of others that it touches.
type candidate struct {
	degree int
	node   int32
}

// candidates is a heap with the next to be eliminated on top.
type candidates []candidate

func (c candidates) Len() int { return len(c) }
func (c candidates) Less(i, j int) bool {
	return c[i].degree < c[j].degree || c[i].degree == c[j].degree && c[i].node < c[j].node
}
func (c candidates) Swap(i, j int) { c[i], c[j] = c[j], c[i] }
func (c *candidates) Push(x any)   { *c = append(*c, x.(candidate)) }
func (c *candidates) Pop() any {
	old := *c
	last := old[len(old)-1]
	*c = old[:len(old)-1]
	return last
}

func neighbours(n int, edges [][2]int32) []map[int32]bool {
	touch := make([]map[int32]bool, n)
	for i := range touch {
		touch[i] = map[int32]bool{}
	}
	for _, e := range edges {
		if e[0] != e[1] {
			touch[e[0]][e[1]], touch[e[1]][e[0]] = true, true
		}
	}
	return touch
}

// fill joins all that node k touches, and takes k out.
func fill(touch []map[int32]bool, k int32) {
	for i := range touch[k] {
		delete(touch[i], k)
		for j := range touch[k] {
			if i != j {
				touch[i][j] = true
			}
		}
	}
}

// newPattern analyses the elimination of the rows 0..n-1 in that order.
func newPattern(n int, edges [][2]int32) *pattern {
	p := &pattern{n: n, start: make([]int32, n+1)}
	touch := neighbours(n, edges)
	for k := range int32(n) {
		var later []int32
		for i := range touch[k] {
			later = append(later, i)
		}
		slices.Sort(later)
		p.next = append(p.next, later...)
		p.start[k+1] = int32(len(p.next))
		fill(touch, k)
	}
	for k := range int32(n) {
		row := p.next[p.start[k]:p.start[k+1]]
		for _, i := range row {
			for _, j := range row {
				p.into = append(p.into, p.at(i, j))
			}
		}
	}
	return p
}

func (p *pattern) len() int { return p.n + 2*len(p.next) }

// at is the place of entry (i, j), or -1 where the matrix has none.
func (p *pattern) at(i, j int32) int32 {
	if i == j {
		return i
	}
	lo, hi := min(i, j), max(i, j)
	k, found := slices.BinarySearch(p.next[p.start[lo]:p.start[lo+1]], hi)
	if !found {
		return -1
	}
	place := int32(p.n) + p.start[lo] + int32(k)
	if j > i { // right of the diagonal
		place += int32(len(p.next))
	}
	return place
}

package plant

import (
	"fmt"
	"math"
)

// The solver's bounds.
const (
	// settled is the change of flow between iterations, as share of the largest flow, at which a solution is taken:
	// 1e-4 m³/h in 1000, far below what a sensor sees.
	settled = 1e-7
	// patience is after how many iterations steps are halved, and mostIterations when the solver gives up.
	patience, mostIterations = 40, 300
)

// solver finds flows and pressures by successive linearisation: each segment's law is replaced by its tangent at the
// last flow, the balances of all nodes are solved for the pressures by LDLᵀ in an order that fills little in, and the
// flows follow. What streams do to each other in a wye is carried over from one iteration to the next, so that the
// matrix stays symmetric; its own-flow slope is kept positive. Loops need nothing special.
type solver struct {
	p       *Plant
	rho, mu float64
	q       []float64 // m³/s by segment
	pr      []float64 // Pa by node, total; at a wye that of the mixed stream
	lifts   []float64 // Pa by wye
	totals  []float64 // m³/s by wye
	leaks   []float64 // m³/s by segment: inflow through seams and openings
	ending  []float64 // m³/s by segment: what of it enters at its end, and passes a wye there with the rest of its air
	at      []float64 // Pa by segment: static pressure at its seams
	h, g    []float64
	next    []float64
	ldl     *ldl
}

// newSolver makes a solver for the plant's network.
func newSolver(p *Plant) *solver {
	n := p.net
	s := &solver{p: p, q: make([]float64, len(n.segments)), pr: make([]float64, len(n.names)),
		lifts: make([]float64, len(n.wyes)), totals: make([]float64, len(n.wyes)),
		leaks: make([]float64, len(n.segments)), ending: make([]float64, len(n.segments)), at: make([]float64, len(n.segments)),
		h: make([]float64, len(n.segments)), g: make([]float64, len(n.segments)), next: make([]float64, len(n.names))}
	var edges [][2]int
	for _, e := range n.segments {
		if e.from != room && e.to != room {
			edges = append(edges, [2]int{e.from, e.to})
		}
	}
	s.ldl = newLDL(len(n.names), edges)
	s.guess()
	return s
}

// guess starts from 10 m/s in every open duct.
func (s *solver) guess() {
	for i := range s.q {
		e := &s.p.net.segments[i]
		s.q[i] = 0.3
		if e.kind == ductSegment {
			s.q[i] = 10 * e.area
		}
		if s.p.shut(e) {
			s.q[i] = 0
		}
	}
	for i := range s.pr {
		s.pr[i] = -1000
	}
}

// run solves from the present flows. The error says how far the solution is from settled.
func (s *solver) run() error {
	step := 1.0
	change, largest := 0.0, 0.0
	for it := 1; it <= mostIterations; it++ {
		if it > patience {
			step = 0.5
		}
		var err error
		change, largest, err = s.iterate(step)
		if err != nil {
			return err
		}
		if change <= settled*largest+rest {
			return nil
		}
	}
	return fmt.Errorf("plant: not solved after %d iterations: flow still moves by %.3g m³/s of %.3g", mostIterations, change, largest)
}

// iterate does one linearisation and returns the largest change of flow and the largest flow, m³/s.
func (s *solver) iterate(step float64) (change, largest float64, err error) {
	n := s.p.net
	for i := range n.wyes {
		s.lifts[i], s.totals[i] = s.lift(&n.wyes[i])
	}
	s.ldl.clear()
	clear(s.next)
	for i := range n.segments {
		s.linearise(i)
		s.leakage(i)
	}
	if err := s.ldl.solve(s.next); err != nil {
		return 0, 0, err
	}
	for i := range n.segments {
		e := &n.segments[i]
		to := s.h[i] + s.g[i]*(s.pressure(s.next, e.from)-s.pressure(s.next, e.to))
		change = math.Max(change, math.Abs(to-s.q[i]))
		s.q[i] += step * (to - s.q[i])
		largest = math.Max(largest, math.Abs(s.q[i]))
	}
	for i, v := range s.next {
		s.pr[i] += step * (v - s.pr[i])
	}
	return change, largest, nil
}

// pressure returns a node's pressure, zero for the room.
func (s *solver) pressure(p []float64, node int) float64 {
	if node == room {
		return 0
	}
	return p[node]
}

// linearise puts a segment's tangent, q = h + g·(p_from − p_to), into the balances.
func (s *solver) linearise(i int) {
	e := &s.p.net.segments[i]
	dp, slope := s.law(i)
	if e.wye >= 0 {
		dp, slope = s.meet(i, dp, slope)
	}
	g := 1 / slope
	h := s.q[i] - dp*g
	s.h[i], s.g[i] = h, g
	if e.to != room {
		s.next[e.to] += h
		s.ldl.diag(e.to, g)
	}
	if e.from != room {
		s.next[e.from] -= h
		s.ldl.diag(e.from, g)
		if e.to != room {
			s.ldl.off(e.from, e.to, -g)
		}
	}
}

// law returns a segment's loss of total pressure at its present flow, and its slope, which is positive.
func (s *solver) law(i int) (dp, slope float64) {
	e := &s.p.net.segments[i]
	q := s.q[i]
	switch e.kind {
	case separatorSegment:
		k := s.p.separator * s.rho
		return k * q * math.Abs(q), 2*k*math.Abs(q) + softest
	case filterSegment:
		dp, slope = s.p.filter.drop(q, s.p.filterRatio, s.rho, s.mu)
		return dp, slope + softest
	case fanSegment:
		y, dy := s.p.fan.rise(q, s.p.speedNow(), s.rho)
		return -y, math.Max(-dy, flattest*math.Abs(y)/s.p.fan.full)
	}
	if s.p.shut(e) {
		return e.seat.inverse(q)
	}
	dp, slope = e.resistance(q, s.rho, s.mu)
	return dp, slope + softest
}

const (
	// softest is the least slope of a loss, Pa/(m³/s), so that a tangent always has an inverse.
	softest = 0.1
	// flattest is the least slope of the fan's curve in pressure over full flow; a rising (humped) stretch is walked
	// with it too.
	flattest = 0.05
)

// leakage puts the inflow through a segment's seams and openings into the balances: half at each end where the
// segment is open, at the living side where it is shut.
func (s *solver) leakage(i int) {
	e := &s.p.net.segments[i]
	s.leaks[i], s.ending[i], s.at[i] = 0, 0, 0
	if e.tightness.none() && e.leak.flow == 0 {
		return
	}
	static, share := s.seamPressure(e, i)
	q1, d1 := e.tightness.at(-static)
	q2, d2 := e.leak.at(-static)
	q, d := q1+q2, d1+d2
	s.leaks[i], s.at[i] = q, static
	ends := [2]int{e.from, e.to}
	tangent := q // at zero pressures of the ends
	for k, node := range ends {
		if node != room {
			tangent += d * share[k] * s.pr[node]
		}
	}
	weight := share
	if share[0] > 0 && e.from == room {
		weight = [2]float64{0, 1}
	}
	s.ending[i] = weight[1] * q
	for k, node := range ends {
		if node == room || weight[k] == 0 {
			continue
		}
		s.next[node] += weight[k] * tangent
		s.ldl.diag(node, weight[k]*share[k]*d)
	}
	if e.from != room && e.to != room && weight[0] > 0 && weight[1] > 0 {
		s.ldl.off(e.from, e.to, weight[0]*share[1]*d)
	}
}

// seamPressure returns the static pressure at a segment's seams in Pa, and how it is shared between the pressures of
// the segment's two ends.
func (s *solver) seamPressure(e *segment, i int) (static float64, share [2]float64) {
	from, to := s.pressure(s.pr, e.from), s.pressure(s.pr, e.to)
	if e.kind != ductSegment {
		return from, [2]float64{1, 0}
	}
	vp := e.velocityPressure(s.q[i], s.rho)
	end := to - vp
	if e.wye >= 0 {
		end = to - s.lifts[e.wye]
	}
	if s.p.shut(e) {
		if e.port > 0 && e.gate < 0 {
			return from, [2]float64{1, 0}
		}
		return end, [2]float64{0, 1}
	}
	return (from - vp + end) / 2, [2]float64{0.5, 0.5}
}

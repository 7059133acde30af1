package plant

import (
	"math"
)

// solution is what follows from a state: the mean of every channel, and how it moves with the fan's speed and the
// filter's resistance, which drift while nothing else changes.
type solution struct {
	ratio   float64   // the filter's resistance at which it was solved
	mean    []float64 // by tap
	noise   []float64 // by tap, s.d. of turbulence
	high    []float64 // by tap, the pressure at its high side
	bySpeed []float64 // d mean/d ln speed
	byRatio []float64 // d mean/d ln filter resistance
	truth   Truth
}

const (
	// nudge is the relative change from which slopes are taken.
	nudge = 0.01
	// farFilter is the relative change of the filter's resistance that is still followed along the tangent: the
	// error is below 0.01 % of a pressure.
	farFilter = 0.01
)

// filterFar tells whether a filter's resistance is too far for the tangent.
func (s *solution) filterFar(ratio float64) bool {
	return math.Abs(ratio-s.ratio) > farFilter*s.ratio
}

// Err solves the state if need be and returns why it has no solution, nil if it has.
func (p *Plant) Err() error {
	if p.dirty {
		p.dirty = false
		p.err = p.solve()
	}
	return p.err
}

// solve finds the state's solution and its slopes.
func (p *Plant) solve() error {
	p.factors()
	s, out := p.solver, &p.state
	out.ratio = p.filterRatio
	if !p.fanOn || p.speedNow() <= 0 {
		p.still()
		return nil
	}
	s.rho, s.mu = p.rho, p.mu
	key := p.key()
	if q, ok := p.known[key]; ok {
		copy(s.q, q)
	} else {
		s.guess()
	}
	if err := s.run(); err != nil {
		return err
	}
	p.known[key] = append(p.known[key][:0], s.q...)
	p.readTaps(out.mean, out.noise)
	for i, t := range p.taps {
		out.high[i] = p.highSide(t)
	}
	p.readTruth(&out.truth)
	return p.slopes()
}

// slopes solves again at a slightly other speed and filter.
func (p *Plant) slopes() error {
	s, out := p.solver, &p.state
	speed, ratio := p.speed, p.filterRatio
	defer func() { p.speed, p.filterRatio = speed, ratio }()
	p.speed *= 1 + nudge
	if err := s.run(); err != nil {
		return err
	}
	p.readTaps(out.bySpeed, nil)
	p.speed = speed
	p.filterRatio *= 1 + nudge
	if err := s.run(); err != nil {
		return err
	}
	p.readTaps(out.byRatio, nil)
	for i := range out.mean {
		out.bySpeed[i] = (out.bySpeed[i] - out.mean[i]) / math.Log1p(nudge)
		out.byRatio[i] = (out.byRatio[i] - out.mean[i]) / math.Log1p(nudge)
	}
	return nil
}

// still is the solution with the fan off.
func (p *Plant) still() {
	out := &p.state
	clear(p.solver.q)
	clear(p.solver.pr)
	clear(p.solver.leaks)
	for i, t := range p.taps {
		out.mean[i], out.noise[i], out.high[i] = t.oneSided(p.ambient(t), 0), p.o.StillNoise, 0
		out.bySpeed[i], out.byRatio[i] = 0, 0
	}
	p.readTruth(&out.truth)
}

// key names the setting of gates and selectors.
func (p *Plant) key() string {
	b := make([]byte, 0, len(p.open)+len(p.port))
	for _, o := range p.open {
		if o {
			b = append(b, '1')
		} else {
			b = append(b, '0')
		}
	}
	for _, n := range p.port {
		b = append(b, byte(n))
	}
	return string(b)
}

// factors puts blockages and hood states onto the segments.
func (p *Plant) factors() {
	for i := range p.net.segments {
		e := &p.net.segments[i]
		e.factor, e.hoodDrop = 1, 1
		if e.run >= 0 {
			e.factor = p.runBlock[e.run]
		}
	}
	for i := range p.machines {
		m := &p.machines[i]
		if !p.joined(m) {
			continue
		}
		for _, s := range m.drop {
			p.net.segments[s].factor *= m.block * m.chips
		}
		for _, s := range m.hood {
			p.net.segments[s].hoodDrop = m.jitter * m.stir * m.crept
		}
	}
}

package duct

import (
	"ductward/internal/air"
	"ductward/internal/shop"
)

// leastResistance (Pa s/m³) is a linear resistance that every pipe has beside its own, so that a joint without length
// or fitting still has a slope: at 1 m³/s it is a ten-thousandth of a pascal.
const leastResistance = 1e-4

// pipe is a stretch of round duct with fittings.
type pipe struct {
	area, diameter float64 // m², m
	friction       float64 // L/D, times the stretch factor of hose
	rough          float64 // ε/(3.7 D)
	head           float64 // loss coefficient of the hood and gate at its start
	rest           float64 // loss coefficient of its other fittings
	more           float64 // how many more pipes it stands for, each with its least resistance
}

func newPipe(diameter, length, roughness, stretch float64) pipe {
	return pipe{
		area: circle(diameter), diameter: diameter,
		friction: stretch * length / diameter,
		rough:    roughness / diameter / 3.7,
	}
}

// scene is what a state means to the elements: the air and the factors, none of them 0.
type scene struct {
	air                              air.State
	speed, filter, losses, leak, fan float64
	throttle                         float64
	housing                          float64 // of the filter beyond the shop file, at 1 m³/s and 1 kg/m³
	past, pastUnit                   float64 // through a hole in the filter's medium, see chain.medium
	wye                              float64 // strength of the wyes, 1 but on the way to a difficult solution

	held        bool // the fan is a thought one that holds its flow
	flow, stiff float64
}

// hold is the pressure rise, with its slope, of a fan that lets its flow stray from the one it holds by no more than a
// ten-thousandth of the real one's reach for all the pressure that this one has.
func (s *scene) hold(q float64) (rise, slope float64) { return s.stiff * (s.flow - q), -s.stiff }

// loss of total pressure (Pa) at a flow (m³/s), with its slope; at is the friction from an earlier call, or the zero one.
//
//	Δp = (f·L/D + ΣK)·ρ/2·V|V|      Darcy and Weisbach
func (p *pipe) loss(q float64, s *scene, at *point) (dp, slope float64) {
	e := p.in(s, 1)
	dp = e.square*signedSquare(q) + e.linear*q
	slope = 2*e.square*abs(q) + e.linear
	if e.friction == 0 {
		return dp, slope
	}
	g, dg := at.loss(e.reynolds*abs(q), e.rough)
	if q < 0 {
		g = -g
	}
	return dp + e.friction*g, slope + e.friction*e.reynolds*dg
}

// in is the pipe in a scene, with a factor on its loss.
func (p *pipe) in(s *scene, factor float64) element {
	density, viscosity := s.air.Density, s.air.Viscosity
	square := factor * density / (2 * p.area * p.area)
	e := element{square: square * (p.head + p.rest), linear: factor * leastResistance * (1 + p.more), rough: p.rough, head: square * p.head}
	if p.friction > 0 {
		e.friction = factor * p.friction * viscosity * viscosity / (2 * density * p.diameter * p.diameter)
		e.reynolds = density * p.diameter / (viscosity * p.area)
	}
	return e
}

// halves cuts a run into the pipe up to its middle and the one from there on. Entries belong to the head of the first;
// of the other fittings the first half of the list belongs to the first, since the file gives their order, not their
// places.
func halves(r *shop.Run) (first, second pipe, err error) {
	first = newPipe(r.Diameter, r.Length/2, r.Roughness, hoseFactor(r))
	second = first
	losses, err := fittingLosses(r)
	if err != nil {
		return first, second, err
	}
	var rest []float64
	for i, k := range losses {
		if r.Fittings[i].Kind == shop.Entry {
			first.head += k
		} else {
			rest = append(rest, k)
		}
	}
	for i, k := range rest {
		if 2*i+1 <= len(rest) {
			first.rest += k
		} else {
			second.rest += k
		}
	}
	return first, second, nil
}

// inOne is a run's two halves as one pipe.
func inOne(first, second pipe) pipe {
	first.friction += second.friction
	first.head += second.head
	first.rest += second.rest
	first.more += second.more + 1
	return first
}

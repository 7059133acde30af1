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
	wye                              float64 // strength of the wyes, 1 but on the way to a difficult solution
}

// velocityPressure (Pa) at a flow (m³/s), with its slope.
func (p *pipe) velocityPressure(q float64, s *scene) (vp, slope float64) {
	k := s.air.Density / (2 * p.area * p.area)
	return k * q * q, 2 * k * q
}

// loss of total pressure (Pa) at a flow (m³/s), with its slope; start and x are 1/√f, before and after.
//
//	Δp = (f·L/D + ΣK)·ρ/2·V|V|      Darcy and Weisbach
func (p *pipe) loss(q float64, s *scene, start float64) (dp, slope, x float64) {
	dp, slope, x = p.inner(q, s, start)
	k := p.head * s.air.Density / (2 * p.area * p.area)
	return dp + k*signedSquare(q), slope + 2*k*abs(q), x
}

// inner is loss without that of the hood and gate at the start.
func (p *pipe) inner(q float64, s *scene, start float64) (dp, slope, x float64) {
	k := p.rest * s.air.Density / (2 * p.area * p.area)
	dp = k*signedSquare(q) + leastResistance*q
	slope = 2*k*abs(q) + leastResistance
	if p.friction == 0 {
		return dp, slope, start
	}
	perFlow := s.air.Density * p.diameter / (s.air.Viscosity * p.area) // Re per m³/s
	g, dg, x := frictionLoss(perFlow*abs(q), p.rough, start)
	unit := p.friction * s.air.Viscosity * s.air.Viscosity / (2 * s.air.Density * p.diameter * p.diameter)
	if q < 0 {
		g = -g
	}
	return dp + unit*g, slope + unit*dg*perFlow, x
}

// halves cuts a run into the pipe up to its middle and the one from there on. Entries belong to the head of the first;
// of the other fittings the first half of the list belongs to the first, since the file gives their order, not their
// places.
func halves(r *shop.Run) (first, second pipe, err error) {
	stretch := r.Stretch
	if !(stretch >= 1) {
		stretch = 1
	}
	first = newPipe(r.Diameter, r.Length/2, r.Roughness, stretch)
	second = first
	var rest []float64
	for _, f := range r.Fittings {
		k, err := fittingLoss(f, r.Diameter)
		if err != nil {
			return first, second, err
		}
		if f.Kind == shop.Entry {
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

package plant

import (
	"math"

	"ductward/internal/shop"
)

// static returns the static pressure at one end of a run, Pa.
func (p *Plant) static(run int, end shop.TapEnd) float64 {
	s, part := p.solver, p.net.runs[run]
	if end == shop.AtStart {
		e := &p.net.segments[part.first]
		vp := e.velocityPressure(s.q[part.first], s.rho)
		if e.from == room { // behind the mouth
			return -vp * (1 + e.mouth*e.factor*e.hoodDrop)
		}
		return s.pr[e.from] - vp
	}
	e := &p.net.segments[part.last]
	if e.wye >= 0 {
		return s.pr[e.to] - s.lifts[e.wye]
	}
	return s.pr[e.to] - e.velocityPressure(s.q[part.last], s.rho)
}

// inletFlow returns what enters the collector through its duct, m³/s.
func (p *Plant) inletFlow() float64 {
	q := 0.0
	for i, e := range p.net.segments {
		if e.to == p.net.inlet {
			q += p.solver.q[i]
		}
	}
	return q
}

// inletStatic returns the static pressure at the collector's inlet, Pa.
func (p *Plant) inletStatic() float64 {
	return p.solver.pr[p.net.inlet] - velocityPressure(p.inletFlow(), p.net.inflow, p.solver.rho)
}

// velocityPressure returns ½ρ(Q/A)², Pa.
func velocityPressure(q, area, rho float64) float64 {
	v := q / area
	return 0.5 * rho * v * v
}

// readTaps writes the mean of every tap, and the s.d. of its turbulence where noise is not nil.
func (p *Plant) readTaps(mean, noise []float64) {
	for i, t := range p.taps {
		var local float64 // velocity pressure at the tap, or the drop itself
		mean[i], local = p.tapMean(t)
		if t.shut != 0 {
			mean[i] = t.oneSided(mean[i], p.highSide(t))
		}
		if noise == nil {
			continue
		}
		switch t.sensor.Measures {
		case shop.StaticPressure, shop.VelocityPressure:
			noise[i] = p.o.StaticNoise + p.o.StaticShare*local
		case shop.FilterDrop, shop.SeparatorDrop:
			noise[i] = p.o.FilterNoise + p.o.FilterShare*math.Abs(local)
		case shop.FanPower:
			noise[i] = p.o.PowerNoise * mean[i]
		default:
			noise[i] = 0
		}
	}
}

// tapMean returns what a perfect sensor at a tap would read, and the pressure that its turbulence goes with.
func (p *Plant) tapMean(t *Tap) (mean, local float64) {
	s, n := p.solver, p.net
	switch t.sensor.Measures {
	case shop.FilterDrop:
		mean, _ = p.filter.drop(s.q[n.filter], p.filterRatio, s.rho, s.mu)
		return mean, mean
	case shop.SeparatorDrop:
		if n.sep < 0 {
			return 0, 0
		}
		q := s.q[n.sep]
		mean = p.separator * s.rho * q * q
		return mean, mean
	case shop.StaticPressure:
		return p.staticAt(t)
	case shop.VelocityPressure:
		area, q := n.inflow, p.inletFlow()
		if t.run >= 0 {
			area, q = n.runs[t.run].area, s.q[n.runs[t.run].last]
		} else if d := t.sensor.Diameter; d > 0 {
			area = math.Pi / 4 * d * d
		}
		mean = velocityPressure(q, area, s.rho)
		return mean, mean
	case shop.FanPower:
		return p.fan.shaft(s.q[n.fan], p.speedNow(), s.rho) / p.fan.motor, 0
	case shop.FanSpeed:
		return p.speedNow() * p.c.Fan.Speed, 0
	}
	return p.ambient(t), 0
}

// staticAt returns a static tap's mean and the velocity pressure that passes it.
func (p *Plant) staticAt(t *Tap) (mean, local float64) {
	s, n := p.solver, p.net
	if t.run >= 0 {
		part := n.runs[t.run]
		return p.static(t.run, t.sensor.TapAt), velocityPressure(s.q[part.last], part.area, s.rho)
	}
	local = velocityPressure(p.inletFlow(), n.inflow, s.rho)
	if t.sensor.Run == "fan" {
		return s.pressure(s.pr, n.segments[n.fan].from) - local, local
	}
	return p.inletStatic(), local
}

// ambient returns what a sensor reads that the fan does not move: the room's air, or nothing.
func (p *Plant) ambient(t *Tap) float64 {
	switch t.sensor.Measures {
	case shop.AirTemperature:
		return p.air.Temperature
	case shop.BarometricPressure:
		return p.air.Pressure
	case shop.RelativeHumidity:
		return p.air.Humidity
	}
	return 0
}

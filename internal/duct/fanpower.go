package duct

import (
	"math"

	"ductward/internal/shop"
)

// efficiency is the share of the power at the shaft that becomes air power Q·p, against the flow of the curve: straight
// lines between points, and the nearest one beyond. A curve that begins without one has none at no flow.
type efficiency struct {
	flows, values []float64 // none: not given
	constant      float64   // 0: not given
}

func newEfficiency(f shop.Fan) efficiency {
	e := efficiency{constant: f.Efficiency}
	for _, p := range f.Points {
		if p.Efficiency > 0 {
			e.flows = append(e.flows, p.Flow)
			e.values = append(e.values, p.Efficiency)
		}
	}
	return e
}

func (e *efficiency) known() bool { return e.constant > 0 || len(e.flows) > 0 }

// perRise is the flow over the efficiency, which times the rise is the power, with its slope. Below the first point the
// efficiency falls with the flow to nothing, so that the fan draws power with no flow too; a constant efficiency
// cannot tell that.
func (e *efficiency) perRise(q float64) (x, slope float64) {
	n := len(e.flows)
	switch {
	case n == 0:
		return q / e.constant, 1 / e.constant
	case q <= e.flows[0] && e.flows[0] > 0:
		return e.flows[0] / e.values[0], 0
	case q <= e.flows[0]:
		return q / e.values[0], 1 / e.values[0]
	case q >= e.flows[n-1]:
		return q / e.values[n-1], 1 / e.values[n-1]
	}
	i := 1
	for q > e.flows[i] {
		i++
	}
	rate := (e.values[i] - e.values[i-1]) / (e.flows[i] - e.flows[i-1])
	y := e.values[i-1] + rate*(q-e.flows[i-1])
	return q / y, 1/y - q*rate/(y*y)
}

// knowsPower tells whether the fan's description gives its power.
func (c *fanCurve) knowsPower() bool { return c.power != nil || c.efficiency.known() }

// shaft is the power (W) at the shaft and its slope, by the fan laws: with the density and the cube of the speed. NaN
// where the description gives none. What a poor inlet takes from the rise is drawn all the same.
func (c *fanCurve) shaft(q, density, speed float64) (power, slope float64) {
	q /= speed
	switch {
	case c.power != nil:
		i := 1
		for i < len(c.flows)-1 && q > c.flows[i] {
			i++
		}
		slope = (c.power[i] - c.power[i-1]) / (c.flows[i] - c.flows[i-1])
		power = c.power[i-1] + slope*(q-c.flows[i-1])
	case c.efficiency.known():
		rise, fall := c.at(q)
		x, dx := c.efficiency.perRise(q)
		power, slope = rise*x, fall*x+rise*dx
	default:
		return math.NaN(), math.NaN()
	}
	d := density / c.density
	return power * d * speed * speed * speed, slope * d * speed * speed
}

// metered is what a power meter before the motor reads (W), with its slope: the power at the shaft where no efficiency
// of motor and drive is given.
func (c *fanCurve) metered(q, density, speed float64) (power, slope float64) {
	power, slope = c.shaft(q, density, speed)
	return power / c.motor, slope / c.motor
}

// MotorPower is what motor and drive take in (W) for a power at the shaft; NaN where their efficiency is not given.
func (m *Model) MotorPower(shaft float64) float64 {
	if !(m.shop.Fan.Motor > 0) {
		return math.NaN()
	}
	return shaft / m.collector.fan.motor
}

package duct

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"

	"ductward/internal/shop"
)

// fanCurve is the total pressure rise of a fan against its flow, at the density and speed of its curve.
type fanCurve struct {
	flows, rises []float64              // straight lines, when smooth and coefficients are not set
	smooth       *interp.FritschButland // Fritsch and Butland 1984: keeps the shape of the points
	coefficients []float64
	first, last  knot      // where the curve begins and ends; beyond, it goes on along its tangent
	power        []float64 // W at flows; nil: not given
	efficiency   efficiency
	running      float64 // speed at which the fan runs over that of the curve
	inlet        float64 // Pa at 1 m³/s and 1 kg/m³, what a poor inlet takes from the rise
	shut         float64 // the same of a restriction that takes all of the rise at the filter's clean flow, see throttleAt
	motor        float64 // shaft power over what the motor takes in
	density      float64 // kg/m³
	top, reach   float64 // Pa and m³/s: the scales of the curve
}

// knot is one end of the curve.
type knot struct{ flow, rise, slope float64 }

// leastFall is the least slope, as a share of the curve's own scale, with which the curve falls beyond its ends: a fan
// pushed past its last point, or blown through backwards, must resist the more the further.
const leastFall = 0.05

func newFanCurve(f shop.Fan) (*fanCurve, error) {
	c := &fanCurve{density: f.Density, running: f.RunningRatio(), motor: f.Motor, efficiency: newEfficiency(f)}
	if !(c.density > 0) {
		c.density = 1.2
	}
	if !(c.motor > 0) {
		c.motor = 1
	}
	var err error
	if c.inlet, err = inletEffect(f.Inlet); err != nil {
		return nil, err
	}
	if len(f.Coefficients) > 0 {
		err = c.fromCoefficients(f.Coefficients)
	} else {
		err = c.fromPoints(f)
	}
	if err != nil {
		return nil, err
	}
	fall := leastFall * c.top / c.reach
	c.first.slope = math.Min(c.first.slope, 0)
	c.last.slope = math.Min(c.last.slope, -fall)
	return c, nil
}

func (c *fanCurve) fromPoints(f shop.Fan) error {
	peak, err := checkPoints(f.Points)
	if err != nil {
		return err
	}
	for _, p := range f.Points {
		c.flows = append(c.flows, p.Flow)
		c.rises = append(c.rises, p.Pressure)
		if p.Power > 0 {
			c.power = append(c.power, p.Power)
		}
	}
	n := len(c.flows)
	if len(c.power) != n { // half a power curve is none
		c.power = nil
	}
	c.top, c.reach = c.rises[peak], c.flows[n-1]
	c.first = knot{c.flows[0], c.rises[0], (c.rises[1] - c.rises[0]) / (c.flows[1] - c.flows[0])}
	c.last = knot{c.flows[n-1], c.rises[n-1], (c.rises[n-1] - c.rises[n-2]) / (c.flows[n-1] - c.flows[n-2])}
	if f.Between == shop.Smooth && n > 2 {
		c.smooth = &interp.FritschButland{}
		if err := c.smooth.Fit(c.flows, c.rises); err != nil {
			return fmt.Errorf("fan: smooth curve: %w", err)
		}
		c.first.slope = c.smooth.PredictDerivative(c.first.flow)
		c.last.slope = c.smooth.PredictDerivative(c.last.flow)
	}
	return nil
}

// checkPoints gives the point with the highest pressure of a curve that may be used: by rising flow, and falling from
// its peak on.
func checkPoints(points []shop.CurvePoint) (peak int, err error) {
	if len(points) < 2 {
		return 0, fmt.Errorf("fan: the curve needs two points or more, not %d", len(points))
	}
	for i, p := range points {
		if math.IsNaN(p.Flow) || math.IsInf(p.Flow, 0) || math.IsNaN(p.Pressure) || math.IsInf(p.Pressure, 0) {
			return 0, fmt.Errorf("fan: point %d of the curve is not a number", i+1)
		}
		if i > 0 && p.Flow <= points[i-1].Flow {
			return 0, fmt.Errorf("fan: point %d of the curve has no more flow than the one before it", i+1)
		}
		if p.Pressure > points[peak].Pressure {
			peak = i
		}
	}
	for i := peak + 1; i < len(points); i++ {
		if points[i].Pressure > points[i-1].Pressure {
			return 0, fmt.Errorf("fan: the curve rises again at point %d (%g m³/s); right of its peak it must fall", i+1, points[i].Flow)
		}
	}
	if !(points[peak].Pressure > 0) || points[0].Flow < 0 {
		return 0, fmt.Errorf("fan: the curve must have a positive pressure and no negative flow")
	}
	return peak, nil
}

// fromCoefficients finds where the polynomial ends: where it reaches zero or, past its peak, would rise again.
func (c *fanCurve) fromCoefficients(coefficients []float64) error {
	for i, k := range coefficients {
		if math.IsNaN(k) || math.IsInf(k, 0) {
			return fmt.Errorf("fan: coefficient %d is not a number", i)
		}
	}
	c.coefficients = coefficients
	rise, slope := polynomial(coefficients, 0)
	if !(rise > 0) {
		return fmt.Errorf("fan: the curve is %g Pa at no flow; its first coefficient must be positive", rise)
	}
	c.first = knot{0, rise, slope}
	c.top = rise
	falling := slope < 0
	for q := 1e-3; q < 1e3; q *= 1.005 {
		p, s := polynomial(coefficients, q)
		if p <= 0 || (falling && s > 0) {
			break
		}
		falling = falling || s < 0
		c.top = math.Max(c.top, p)
		c.last = knot{q, p, s}
	}
	if !falling || c.last.flow == 0 || c.last.flow > 990 {
		return fmt.Errorf("fan: the curve of the coefficients never falls to zero")
	}
	c.reach = c.last.flow
	return nil
}

// polynomial is Σ c[i]·q^i with its slope.
func polynomial(c []float64, q float64) (p, slope float64) {
	for i := len(c) - 1; i >= 0; i-- {
		slope = slope*q + p
		p = p*q + c[i]
	}
	return p, slope
}

// at is the pressure rise (Pa) and its slope at a flow (m³/s), at the curve's own density and speed.
func (c *fanCurve) at(q float64) (rise, slope float64) {
	switch {
	case q < 0: // blown through backwards: the tangent at no flow, bent upwards
		rise, slope = c.at(0)
		bend := c.top / (c.reach * c.reach)
		return rise + slope*q + bend*q*q, slope + 2*bend*q
	case q < c.first.flow:
		return c.first.rise + c.first.slope*(q-c.first.flow), c.first.slope
	case q > c.last.flow:
		return c.last.rise + c.last.slope*(q-c.last.flow), c.last.slope
	case c.coefficients != nil:
		return polynomial(c.coefficients, q)
	case c.smooth != nil:
		return c.smooth.Predict(q), c.smooth.PredictDerivative(q)
	}
	i := 1
	for i < len(c.flows)-1 && q > c.flows[i] {
		i++
	}
	slope = (c.rises[i] - c.rises[i-1]) / (c.flows[i] - c.flows[i-1])
	return c.rises[i-1] + slope*(q-c.flows[i-1]), slope
}

// moved is the pressure rise at another density and speed, by the fan laws: flow goes with the speed, pressure with
// the density and the square of the speed (AMCA fan laws). What a poor inlet takes is off.
func (c *fanCurve) moved(q, density, speed float64) (rise, slope float64) {
	rise, slope = c.at(q / speed)
	d := density / c.density
	effect := c.inlet * density
	return rise*d*speed*speed - effect*signedSquare(q), slope*d*speed - 2*effect*abs(q)
}

// throttleAt sets the scale of a restriction right at the fan, such as a choked inlet or a blocked outlet: it is told by
// what it leaves of the rise at a flow (m³/s), so that it and a weaker wheel are numbers of one size there. With no flow it
// takes nothing.
func (c *fanCurve) throttleAt(q float64) {
	rise, _ := c.moved(q, c.density, c.running)
	c.shut = math.Max(rise, c.top*leastFall) / (c.density * q * q)
}

// LargestRise returns the largest pressure rise (Pa) that the fan reaches at any flow at which it does not run backwards,
// in air of a density (kg/m³) and at the speed at which it runs: no suction in the ducts is larger.
func (m *Model) LargestRise(density float64) float64 {
	c := m.collector.fan
	atNone, _ := c.at(0)
	return math.Max(c.top, atNone) * density / c.density * c.running * c.running
}

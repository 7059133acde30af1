package plant

import (
	"math"

	"ductward/internal/shop"
)

// curve is a function through points, by cubics whose slope at a point is that of the parabola through it and its
// neighbours. It is extended by straight lines.
type curve struct {
	x, y, slope []float64
}

// newCurve makes a curve of at least one point; x rises.
func newCurve(x, y []float64) curve {
	n := len(x)
	c := curve{x: x, y: y, slope: make([]float64, n)}
	if n == 1 {
		return c
	}
	secant := func(i int) float64 { return (y[i+1] - y[i]) / (x[i+1] - x[i]) }
	for i := 1; i < n-1; i++ {
		left, right := x[i]-x[i-1], x[i+1]-x[i]
		c.slope[i] = (secant(i-1)*right + secant(i)*left) / (left + right)
	}
	c.slope[0], c.slope[n-1] = secant(0), secant(n-2)
	if n > 2 {
		c.slope[0] = 2*secant(0) - c.slope[1]
		c.slope[n-1] = 2*secant(n-2) - c.slope[n-2]
	}
	return c
}

// at returns the value and the slope at x.
func (c *curve) at(x float64) (y, dy float64) {
	n := len(c.x)
	if x <= c.x[0] {
		return c.y[0] + c.slope[0]*(x-c.x[0]), c.slope[0]
	}
	if x >= c.x[n-1] {
		return c.y[n-1] + c.slope[n-1]*(x-c.x[n-1]), c.slope[n-1]
	}
	i := 0
	for x > c.x[i+1] {
		i++
	}
	h := c.x[i+1] - c.x[i]
	t := (x - c.x[i]) / h
	u := 1 - t
	y = c.y[i]*(1+2*t)*u*u + c.y[i+1]*t*t*(3-2*t) + h*t*u*(c.slope[i]*u-c.slope[i+1]*t)
	dy = 6*t*u*(c.y[i+1]-c.y[i])/h + c.slope[i]*u*(1-3*t) + c.slope[i+1]*t*(3*t-2)
	return y, dy
}

// fan is the fan as built.
type fan struct {
	points       curve
	coefficients []float64
	power        curve   // no points: not known
	efficiency   curve   // no points: not known
	motor        float64 // shaft power over electrical power
	inlet        float64 // Pa/(m³/s)² per kg/m³ that a poor inlet takes
	restriction  float64 // the same of a fault behind the last tap
	reversed     bool
	density      float64
	height, tilt float64 // as-built errors: the rise is multiplied by height·(1 + tilt·(Q/full − ½))
	full         float64 // m³/s, the last point's flow
}

// newFan takes the fan from its description.
func newFan(f *shop.Fan) fan {
	out := fan{density: f.Density, height: 1, coefficients: f.Coefficients, full: 1, motor: 1, inlet: spoilt(f.Inlet)}
	if f.Motor > 0 {
		out.motor = f.Motor
	}
	if !(out.density > 0) {
		out.density = referenceDensity
	}
	var x, y, px, py, ex, ey []float64
	if f.Efficiency > 0 {
		ex, ey = []float64{0}, []float64{f.Efficiency}
	}
	for _, p := range f.Points {
		x, y = append(x, p.Flow), append(y, p.Pressure)
		if !math.IsNaN(p.Power) && p.Power > 0 {
			px, py = append(px, p.Flow), append(py, p.Power)
		}
		if p.Efficiency > 0 && !(f.Efficiency > 0) {
			ex, ey = append(ex, p.Flow), append(ey, p.Efficiency)
		}
	}
	if len(x) > 0 {
		out.points = newCurve(x, y)
		out.full = x[len(x)-1]
	}
	if len(px) > 0 {
		out.power = newCurve(px, py)
	}
	if len(ex) > 0 {
		out.efficiency = newCurve(ex, ey)
	}
	return out
}

// rise returns the total pressure rise in Pa and its slope by flow, at flow q in m³/s, speed ratio s and density rho:
// the fan laws p ~ ρ·s², Q ~ s.
func (f *fan) rise(q, s, rho float64) (p, slope float64) {
	poor := f.inlet + f.restriction
	if f.reversed {
		p, slope = f.built(q/reversedFlow, s, rho)
		p, slope = p*reversedRise, slope*reversedRise/reversedFlow
	} else {
		p, slope = f.built(q, s, rho)
	}
	return p - poor*rho*q*math.Abs(q), slope - 2*poor*rho*math.Abs(q)
}

// A centrifugal fan that turns backwards moves air the right way still, 40 to 60 % of it (common practice, no source): its
// curve is drawn together by these factors. Its power is nearly that of the flow that it would have moved.
const (
	reversedFlow  = 0.6
	reversedRise  = 0.3
	reversedPower = 0.8
)

// built returns the rise of the fan as built, without what is in its way.
func (f *fan) built(q, s, rho float64) (p, slope float64) {
	x := q / s
	var y, dy float64
	if len(f.coefficients) > 0 {
		for i := len(f.coefficients) - 1; i >= 0; i-- {
			dy = dy*x + y
			y = y*x + f.coefficients[i]
		}
	} else {
		y, dy = f.points.at(x)
	}
	height := f.height * (1 + f.tilt*(x/f.full-0.5))
	dy = dy*height + y*f.height*f.tilt/f.full
	scale := rho / f.density
	return y * height * s * s * scale, dy * s * scale
}

// shaft returns the shaft power in W, NaN where no power is known; P ~ ρ·s³.
func (f *fan) shaft(q, s, rho float64) float64 {
	var y float64
	share := 1.0
	if f.reversed {
		q, share = q/reversedFlow, reversedPower
	}
	switch {
	case len(f.power.x) > 0:
		y, _ = f.power.at(q / s)
	case len(f.efficiency.x) > 0:
		y = f.airPower(q / s)
	default:
		return math.NaN()
	}
	return share * y * s * s * s * rho / f.density
}

// airPower returns the shaft power at the curve's own speed and density by the efficiency, held beyond its points; the
// least is that of a tenth of the full flow, since no fan turns for nothing.
func (f *fan) airPower(x float64) float64 {
	x = math.Max(x, f.full/10)
	n := len(f.efficiency.x)
	e, _ := f.efficiency.at(math.Max(f.efficiency.x[0], math.Min(x, f.efficiency.x[n-1])))
	p, _ := f.built(x, 1, f.density)
	return p * x / e
}

// spoilt returns what a poor inlet takes from the fan, as a factor on ρQ²: stated, or for an elbow 1.3 velocity
// pressures right at the fan, 3 for one without a radius, and half of it for every three diameters between (an
// invention of this plant, of the size that the trade knows).
func spoilt(in *shop.FanInlet) float64 {
	if in == nil {
		return 0
	}
	k := in.Coefficient
	if math.IsNaN(k) {
		k = 1.3
		if in.Make == shop.MitredElbow {
			k = 3
		}
		k *= math.Exp2(-in.Straight / 3)
	}
	area := math.Pi / 4 * in.Diameter * in.Diameter
	return k / (2 * area * area)
}

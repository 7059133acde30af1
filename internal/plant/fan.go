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
	power        curve // no points: not known
	density      float64
	height, tilt float64 // as-built errors: the rise is multiplied by height·(1 + tilt·(Q/full − ½))
	full         float64 // m³/s, the last point's flow
}

// newFan takes the fan from its description.
func newFan(f *shop.Fan) fan {
	out := fan{density: f.Density, height: 1, coefficients: f.Coefficients, full: 1}
	if !(out.density > 0) {
		out.density = referenceDensity
	}
	var x, y, px, py []float64
	for _, p := range f.Points {
		x, y = append(x, p.Flow), append(y, p.Pressure)
		if !math.IsNaN(p.Power) && p.Power > 0 {
			px, py = append(px, p.Flow), append(py, p.Power)
		}
	}
	if len(x) > 0 {
		out.points = newCurve(x, y)
		out.full = x[len(x)-1]
	}
	if len(px) > 0 {
		out.power = newCurve(px, py)
	}
	return out
}

// rise returns the total pressure rise in Pa and its slope by flow, at flow q in m³/s, speed ratio s and density rho:
// the fan laws p ~ ρ·s², Q ~ s.
func (f *fan) rise(q, s, rho float64) (p, slope float64) {
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
	built := f.height * (1 + f.tilt*(x/f.full-0.5))
	dy = dy*built + y*f.height*f.tilt/f.full
	scale := rho / f.density
	return y * built * s * s * scale, dy * s * scale
}

// shaft returns the shaft power in W, NaN where no power is known; P ~ ρ·s³.
func (f *fan) shaft(q, s, rho float64) float64 {
	if len(f.power.x) == 0 {
		return math.NaN()
	}
	y, _ := f.power.at(q / s)
	return y * s * s * s * rho / f.density
}

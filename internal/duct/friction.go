package duct

import "math"

// Where laminar flow ends and where the formula for turbulent flow holds. The Moody diagram draws the laminar line to
// 2300; text books let Colebrook and White begin at 4000. Between them the two are blended.
const (
	laminarEnd     = 2300.0
	turbulentStart = 4000.0
)

// colebrook solves the equation of Colebrook and White for x = 1/√f, f the Darcy friction factor,
//
//	x = -2·log10(ε/(3.7 D) + 2.51·x/Re)      Colebrook 1939, J. Inst. Civ. Eng. 11, eq. 13
//
// to machine precision, and gives dx/dRe. rough is ε/(3.7 D); Re must be positive. It starts from start when that is
// positive (the solution at a Reynolds number nearby), else from the explicit formula of Haaland, which is within 2 %.
// The equation is so nearly linear in x that a Newton step squares and still shrinks the error: two or three do.
func colebrook(re, rough, start float64) (x, slope float64) {
	const k = 2 / math.Ln10
	x = start
	if !(x > 0) {
		// Haaland 1983, J. Fluids Eng. 105, 89: 1/√f = -1.8·log10((ε/3.7D)^1.11 + 6.9/Re).
		haaland := 6.9 / re
		if rough > 0 {
			haaland += math.Exp(1.11 * math.Log(rough))
		}
		x = -1.8 / math.Ln10 * math.Log(haaland)
	}
	b := 2.51 / re
	for range 20 {
		s := rough + b*x
		step := (x + k*math.Log(s)) / (1 + k*b/s)
		x -= step
		if abs(step) <= 1e-7*x { // the next step would be below 1e-15: it goes with 0.02 times the square of this one
			break
		}
		x = max(x, 0.1) // f = 100: keeps the logarithm defined on the way from a bad start
	}
	s := rough + b*x
	return x, k * b * x / (re * s) / (1 + k*b/s)
}

// loss is g = f·Re², the friction loss of a straight pipe without its units: Δp = (L/D)·μ²/(2ρD²)·g, with f the Darcy
// friction factor at a Reynolds number and at rough = ε/(3.7 D): 64/Re up to Re 2300, Colebrook and White from 4000, and
// a blend with continuous slope between. g is 64·Re in laminar flow, so that it and its slope behave at no flow at all.
// It gives g and dg/dRe. The point c, where the last call left it, tells from where to go.
func (c *point) loss(re, rough float64) (g, slope float64) {
	if re <= laminarEnd {
		return 64 * re, 64
	}
	x, dx := c.move(re, rough)
	over := 1 / x
	y := re * over
	g = y * y
	slope = 2 * y * (1 - y*dx) * over
	if re >= turbulentStart {
		return g, slope
	}
	// Smoothstep between the laminar and the turbulent loss: value and slope agree with both at the ends.
	t := (re - laminarEnd) / (turbulentStart - laminarEnd)
	w := t * t * (3 - 2*t)
	dw := 6 * t * (1 - t) / (turbulentStart - laminarEnd)
	return 64*re + w*(g-64*re), 64 + w*(slope-64) + dw*(g-64*re)
}

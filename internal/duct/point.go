package duct

import "math"

// point is a solution of the equation of Colebrook and White from which the one at a Reynolds number nearby is found
// without a logarithm. The zero value is none.
type point struct {
	re, over    float64 // Re and its inverse
	x           float64 // 1/√f
	slope, bend float64 // first and second derivative of x by ln Re
	// An argument of the logarithm, ε/(3.7 D) + 2.51·x/Re, near which others are found: it, its inverse and its logarithm.
	s, turn, log float64
}

const (
	// almost is the change of Re, relative to what it was, up to which three terms of Taylor's series give x: the third
	// derivative by ln Re is below 0.1, and the error below 1e-14.
	almost = 1e-4
	// nearby is the change of the argument, relative to what it was, up to which its logarithm is found by a series:
	// the first term left out of it is then below 1e-17.
	nearby = 0.1
	// halley is the size of a step of Halley's method for x after which the next would be below rounding: it goes with
	// 0.001 times the cube of this one.
	halley = 1e-4
)

// move goes to another Reynolds number on a wall of the same roughness, to machine precision, and gives dx/dRe.
func (c *point) move(re, rough float64) (x, slope float64) {
	d := (re - c.re) * c.over
	way := d * (1 - d*(1./2-d*(1./3-d*(1./4)))) // ln(re/c.re)
	if d > 0.5 || d < -0.5 {
		way = 2 * (re - c.re) / (re + c.re) // nearly
	}
	x = c.x + way*(c.slope+way/2*c.bend)
	if d < almost && d > -almost && c.x > 0 {
		return x, (c.slope + way*c.bend) * c.over * (1 - d*(1-d))
	}
	const k = 2 / math.Ln10
	over := 1 / re
	b := 2.51 * over
	for range 8 {
		if !(x > 0.1 && x < 100) { // the zero value, or carried out of all range
			break
		}
		s := rough + b*x
		change := (s - c.s) * c.turn
		var log float64
		if change < nearby && change > -nearby {
			log = c.log + logNearOne(change)
		} else {
			log = math.Log(s)
			c.s, c.turn, c.log = s, 1/s, log
		}
		steep := b / s // -k·steep² is the second derivative of x + k·ln s
		gentle := 1 / (1 + k*steep)
		step := (x + k*log) * gentle
		step *= 1 - 0.5*step*k*steep*steep*gentle
		x -= step
		if abs(step) < halley {
			turned := steep * step // what the step did to the slopes, to first order
			c.settle(re, over, x, steep*(1+turned), gentle*(1-k*steep*turned*gentle))
			return x, c.slope * over
		}
	}
	x, _ = colebrook(re, rough, 0)
	c.s = rough + b*x
	c.turn, c.log = 1/c.s, math.Log(c.s)
	steep := b * c.turn
	c.settle(re, over, x, steep, 1/(1+k*steep))
	return x, c.slope * over
}

// settle keeps a solution. With s the argument of the logarithm, steep = b/s and b = 2.51/Re, u = k·steep and gentle =
// 1/(1+u):
//
//	dx/dlnRe = x·u/(1+u),  du/dlnRe = -u·(1 + steep·(dx/dlnRe - x))
func (c *point) settle(re, over, x, steep, gentle float64) {
	const k = 2 / math.Ln10
	u := k * steep
	c.re, c.over, c.x = re, over, x
	c.slope = x * u * gentle
	c.bend = gentle * (c.slope*u - x*u*(1+steep*(c.slope-x))*gentle)
}

// logNearOne is ln(1+d) for |d| up to nearby: 2·artanh(z) with z = d/(2+d), as a series in z up to z¹¹.
func logNearOne(d float64) float64 {
	z := d / (2 + d)
	q := z * z
	return 2 * z * (1 + q*(1./3+q*(1./5+q*(1./7+q*(1./9+q*(1./11))))))
}

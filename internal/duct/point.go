package duct

import "math"

// point is a solution of the equation of Colebrook and White from which the one at a Reynolds number nearby is found
// without a logarithm. The zero value is none.
type point struct {
	re, x float64 // x = 1/√f
	s     float64 // ε/(3.7 D) + 2.51·x/Re
	turn  float64 // 1/s
	slope float64 // what x gains per unit of ln Re
}

// nearby is the change of s, relative to what it was, up to which its logarithm is found by a series: the first term
// left out of it is then below 1e-17.
const nearby = 0.1

// halley is the size of a step of Halley's method for x after which the next would be below rounding: it goes with
// 0.001 times the cube of this one.
const halley = 3e-5

// move goes to another Reynolds number on a wall of the same roughness, to machine precision, and gives dx/dRe.
func (c *point) move(re, rough float64) (x, slope float64) {
	if c.x > 0 {
		const k = 2 / math.Ln10
		turn := 1 / re
		b := 2.51 * turn
		x = c.x + c.slope*2*(re-c.re)/(re+c.re) // ln(re/c.re), nearly
		for range 4 {
			s := rough + b*x
			change := (s - c.s) * c.turn
			if !(change < nearby && change > -nearby) {
				break
			}
			// x + k·ln s, where ln c.s is -c.x/k since c is a solution.
			miss := x - c.x + k*logNearOne(change)
			steep := b / s // -(b/s)²·k is the second derivative
			gentle := 1 / (1 + k*steep)
			step := miss * gentle
			step *= 1 - 0.5*step*k*steep*steep*gentle
			x -= step
			if abs(step) < halley {
				c.re = re
				c.settle(rough, b, x)
				return x, c.slope * turn
			}
		}
	}
	x, slope = colebrook(re, rough, c.x)
	c.re = re
	c.settle(rough, 2.51/re, x)
	return x, slope
}

// settle keeps a solution.
func (c *point) settle(rough, b, x float64) {
	const k = 2 / math.Ln10
	c.x = x
	c.s = rough + b*x
	c.turn = 1 / c.s
	bend := k * b * c.turn
	c.slope = bend * x / (1 + bend)
}

// logNearOne is ln(1+d) for |d| up to nearby: 2·artanh(z) with z = d/(2+d), as a series in z up to z¹¹.
func logNearOne(d float64) float64 {
	z := d / (2 + d)
	q := z * z
	return 2 * z * (1 + q*(1./3+q*(1./5+q*(1./7+q*(1./9+q*(1./11))))))
}

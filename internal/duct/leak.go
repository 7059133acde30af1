package duct

import "math"

// usualExponent is that of leaks at seams: European and American tightness classes alike use 0.65 (EN 12237, EN 1507,
// SMACNA HVAC Air Duct Leakage Test Manual).
const usualExponent = 0.65

// seatReference is the suction (Pa) at which the shop file states what passes a shut gate.
const seatReference = 1500.0

// leakKnee (Pa) is the pressure below which a leak's flow is made linear, so that its slope stays finite. It is below
// what any gauge in a duct can read, and at 1500 Pa changes the flow by less than one part in ten million.
const leakKnee = 1.0

// leakLaw is Q = C·Δp^n, odd in Δp.
type leakLaw struct {
	c float64 // m³/s at 1 Pa
	n float64
}

// atReference is the law of a leak with a stated flow (m³/s) at a stated pressure (Pa).
func atReference(flow, pressure, exponent float64) leakLaw {
	if exponent == 0 {
		exponent = usualExponent
	}
	unit, _ := leakLaw{c: 1, n: exponent}.flow(pressure)
	return leakLaw{c: flow / unit, n: exponent}
}

// flow through the leak at a pressure difference (Pa) that drives it, with its slope:
//
//	Q = C·Δp·(Δp² + knee²)^((n-1)/2)
func (l leakLaw) flow(dp float64) (q, slope float64) {
	if l.c == 0 {
		return 0, 0
	}
	square := dp*dp + leakKnee*leakKnee
	unit := l.c * math.Exp((l.n-1)/2*math.Log(square))
	return unit * dp, unit * (1 + (l.n-1)*dp*dp/square)
}

// power is a pressure at which a leak's law was evaluated, from which its value at one nearby is found without a
// logarithm or an exponential. The zero value is none.
type power struct{ square, unit float64 } // Δp² + knee², and C·square^((n-1)/2)

// flow is leakLaw.flow from the last pressure.
func (c *power) flow(l leakLaw, dp float64) (q, slope float64) {
	square := dp*dp + leakKnee*leakKnee
	change := square/c.square - 1
	if change < nearby && change > -nearby {
		// (1+d)^a = exp(a·ln(1+d)), |a| at most 1/2: of a number below 0.053 the ninth power over 9! is below rounding.
		y := (l.n - 1) / 2 * logNearOne(change)
		c.unit *= 1 + y*(1+y*(1./2+y*(1./6+y*(1./24+y*(1./120+y*(1./720+y*(1./5040+y/40320)))))))
		c.square = square
	} else if l.c == 0 {
		return 0, 0
	} else {
		*c = power{square: square, unit: l.c * math.Exp((l.n-1)/2*math.Log(square))}
	}
	return c.unit * dp, c.unit * (1 + (l.n-1)*dp*dp/square)
}

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

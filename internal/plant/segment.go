package plant

import "math"

// What a segment is.
const (
	ductSegment = iota
	separatorSegment
	filterSegment
	fanSegment
	dischargeSegment
)

// room is the node number of the room, at zero gauge pressure.
const room = -1

// segment is one edge of the network: a run or part of one, or a part of the collector. Air flows from node from to
// node to. A segment that is shut (by its gate, or by a selector that joins another port) passes what leaks past the
// seat.
type segment struct {
	kind     int
	from, to int
	run      int // index of the run; -1 for the collector's parts

	area, diameter   float64 // m², m
	reach            float64 // m of length, stretch of hose included
	rough            float64 // (relative roughness/3.7)^1.11
	coefficient      float64 // sum of the fittings' coefficients on the segment's own velocity pressure
	measured         float64 // Pa/(m³/s)² at the reference density
	gate             int     // index of its gate; -1: none
	gateOpen         float64 // the open gate's coefficient
	selector, port   int     // the selector's index, -1: none, and the port that opens this segment; port 0: any port
	wye              int     // index of the wye that the segment ends at; -1: none
	branchLoss       float64 // coefficient of its entry into the wye
	surface          float64 // m² of seams; as built
	tightness        seams
	leak             leak    // opened along the segment
	seat             leak    // past its shut gate or port; the drawing's and what has worn since
	mouth            float64 // coefficient of the entry itself, part of coefficient
	factor, hoodDrop float64 // what blockages put on the loss, and what this use of the hood does
}

// seams is the leakage law of the seams as built, per m²: half holes (exponent ½), half cracks (0.65), in the share
// that the plant draws, equal to the drawing's law at seamPressure.
type seams struct {
	rate  float64 // m³/s at seamPressure over the whole segment
	holes float64 // share of the exponent ½
	crack float64 // exponent of the rest
	hole  float64 // m³/s at seamPressure through a plain hole of the drawing
}

// The exponents between which an opening's lies: a hole's, and a seam's that is a long crack (EN 12237 takes 0.65 for ducts).
const (
	HoleExponent = 0.50
	SeamExponent = 0.65
)

// seamPressure is where the two parts of a seam's law are split, Pa.
const seamPressure = 1000.0

// at returns the inflow in m³/s and its slope at a suction of s Pa (positive: air enters).
func (l *seams) at(s float64) (q, slope float64) {
	if l.none() {
		return 0, 0
	}
	q1, d1 := power(l.rate*l.holes+l.hole, 0.5, s/seamPressure)
	q2, d2 := power(l.rate*(1-l.holes), l.crack, s/seamPressure)
	return q1 + q2, (d1 + d2) / seamPressure
}

func (l *seams) none() bool { return l.rate == 0 && l.hole == 0 }

// leakPressure is the suction at which opened leaks and worn seats are stated, Pa.
const leakPressure = 1500.0

// leak is an opening that passes flow at leakPressure, with its exponent.
type leak struct {
	flow, exponent float64
}

// at returns the inflow in m³/s and its slope at a suction of s Pa.
func (l *leak) at(s float64) (q, slope float64) {
	if l.flow == 0 {
		return 0, 0
	}
	q, slope = power(l.flow, l.exponent, s/leakPressure)
	return q, slope / leakPressure
}

// gentle is the fraction of the stated pressure below which a leak's law is a straight line, so that its slope at
// rest is finite: 1.5 Pa.
const gentle = 1e-3

// power returns c·sign(x)·|x|^n and its slope, straight below gentle.
func power(c, n, x float64) (y, slope float64) {
	a := math.Abs(x)
	if a < gentle {
		slope = c * math.Pow(gentle, n-1)
		return slope * x, slope
	}
	if n == 0.5 {
		y = c * math.Sqrt(a)
	} else {
		y = c * math.Pow(a, n)
	}
	slope = n * y / a
	return math.Copysign(y, x), slope
}

// inverse returns the suction in Pa that drives q past an opening, with its slope: the law of a shut gate.
func (l *leak) inverse(q float64) (s, slope float64) {
	flow := math.Max(l.flow, sealed)
	edge := flow * math.Pow(gentle, l.exponent)
	if math.Abs(q) < edge {
		slope = leakPressure * gentle / edge
		return slope * q, slope
	}
	x := math.Pow(math.Abs(q)/flow, 1/l.exponent)
	slope = leakPressure * x / (l.exponent * math.Abs(q))
	return math.Copysign(leakPressure*x, q), slope
}

// sealed is the flow past a perfectly tight gate at leakPressure, m³/s: 0.004 l/h, so that every law has an inverse.
const sealed = 1e-9

// resistance returns the loss of total pressure of an open duct segment in Pa at flow q, and its slope; rho and mu are
// the air's.
func (e *segment) resistance(q, rho, mu float64) (dp, slope float64) {
	scale := rho / (2 * e.area * e.area)
	k := scale*e.coefficient + e.measured*rho/referenceDensity
	if e.gate >= 0 {
		k += scale * e.gateOpen
	}
	k *= e.factor * e.hoodDrop
	a := math.Abs(q)
	dp, slope = k*q*a, 2*k*a
	perRe := e.area * mu / (rho * e.diameter) // flow per unit of Reynolds number
	fRe, dfRe := friction(e.rough, a/perRe)
	c := scale * e.reach / e.diameter * perRe * e.factor * e.hoodDrop // f·q·|q| is (f·Re)·perRe·q
	return dp + c*fRe*q, slope + c*(fRe+dfRe*a/perRe)
}

// velocityPressure returns ½ρv² in Pa at flow q.
func (e *segment) velocityPressure(q, rho float64) float64 {
	v := q / e.area
	return 0.5 * rho * v * v
}

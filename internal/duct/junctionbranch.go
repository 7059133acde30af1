package duct

import "math"

// sweptSaving is what a rounded corner saves the branch of a wye, as a coefficient on Qb²/(Ab·Ac): its radius over the
// branch's diameter y gives 0.2·(1 - exp(-40·y)), after the momentum balance of converging tees of F. Brandt,
// Dampferzeuger, FDBR Fachbuch vol. 3, which has 0.1·exp(-40·y) in twice the balance (read in a published program). A
// tenth of a diameter is as good as any more. In a shallow wye less is left to save: at most half of what the stream
// loses by not coming in straight, 1 - cos α, so that two streams never gain energy together (a choice of ours).
func sweptSaving(radius, angle float64) float64 {
	if !(radius > 0) {
		return 0
	}
	return math.Min(0.2*(1-math.Exp(-40*radius)), 1-math.Cos(angle))
}

// The branch's share of the flow, and the factor that Idelchik, Handbook of Hydraulic Resistance, 3rd ed., ch. 7, and
// Crane TP-410 (by the library fluids 1.0.22) put on the loss of a branch wider than 0.35 of the main: 0.9·(1-q) up to
// a share of 0.4, 0.55 beyond. Here its corners are rounded, it begins at 1 for a branch without flow, and it goes back
// to 1 where the branch alone carries all and more (air that turns back into the straight leg), so that it joins the
// balance of momentum with value and slope at both ends. From 0.1 to 0.35 and from 0.45 to 1 it is theirs.
var (
	wideShare  = []float64{0, 0.1, 0.35, 0.45, 1, 2}
	wideFactor = []float64{1, 0.81, 0.585, 0.55, 0.55, 1}
	wideSlope  = []float64{0, -0.9, -0.9, 0, 0, 0}
)

// wideStrength is how much of that factor a branch of a share of the main's area has: none below 0.30 and all from 0.35
// on, where the handbooks have a step.
func wideStrength(area float64) float64 {
	t := math.Max(0, math.Min(1, (area-0.30)/0.05))
	return t * t * (3 - 2*t)
}

// wideAt is the factor at a share of the flow, with its slope: cubics through values and slopes.
func wideAt(share float64) (factor, slope float64) {
	n := len(wideShare) - 1
	if share <= wideShare[0] || share >= wideShare[n] {
		return 1, 0
	}
	i := 0
	for share > wideShare[i+1] {
		i++
	}
	h := wideShare[i+1] - wideShare[i]
	t := (share - wideShare[i]) / h
	u := 1 - t
	y0, y1, d0, d1 := wideFactor[i], wideFactor[i+1], wideSlope[i]*h, wideSlope[i+1]*h
	factor = y0*u*u*(1+2*t) + y1*t*t*(3-2*t) + d0*t*u*u - d1*t*t*u
	slope = (6*t*u*(y1-y0) + d0*u*(1-3*t) + d1*t*(3*t-2)) / h
	return factor, slope
}

// widened puts the factor on the loss of a branch whose air, of flow qb, joins a combined flow of qc.
func (j *joint) widened(l *jointLoss, qb, qc float64) {
	if qb <= 0 || qc <= 0 {
		return
	}
	share := qb / qc
	factor, slope := wideAt(share)
	factor, slope = 1+j.wide*(factor-1), j.wide*slope
	byStraight := -slope * share / qc // of the factor, by the straight leg's flow
	byBranch := slope * (1 - share) / qc
	l.bs = factor*l.bs + byStraight*l.b
	l.bb = factor*l.bb + byBranch*l.b
	l.b *= factor
}

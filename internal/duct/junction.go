package duct

import (
	"math"

	"ductward/internal/shop"
)

// joint is a wye: the straight leg s and the branch leg b flow into the combined leg c, which carries on along s. All
// three are thought to end in one small volume with one static pressure. What leaves through a leg takes with it the
// momentum that the streams coming in have along that leg, and nothing else. Balancing it over the volume gives, in
// units of ρ/2 and with velocity V = Q/A, for both streams flowing in,
//
//	branch    Vc² + Vb² - 2·(Qs·Vs + Qb·Vb·cos α)/Ac
//	straight  Vc² + Vs² - 2·(Qs·Vs + Qb·Vb·cos α)/Ac
//
// which is the converging wye of Idelchik, Handbook of Hydraulic Resistance, 3rd ed., ch. 7 (with straight and combined
// leg of any area, and without the factor of 0.55 to 0.9 that he and Crane put on wide branches, which a shop may ask
// for): referred to Vc² and with As = Ac the branch has
// 1 + w² - 2(1-q)² - 2·cos α·q²/a. Tables of measured wyes differ from it by up to 20 %. The run may gain pressure: a
// fast branch pulls it along. The same balance holds for every other direction of flow, as in a ring main: the losses
// are quadratic in the flows whatever their signs, so that they scale with the flow, and value and slope are
// continuous everywhere.
//
// A splitter is the same with both legs at an angle: cos α stands at Qs·Vs as well.
type joint struct {
	straight, branch       int32 // edges
	areaS, areaB, areaC    float64
	ss, bb, cc, sc, bc, sb float64 // 1/(A·A) of pairs of legs times the cosine between them
	swept                  float64 // 1/(A·A) of branch and combined leg, times what a rounded corner saves the branch
	wide                   float64 // strength of the handbooks' factor on a wide branch, 0 to 1
	name                   string
	legs                   [2]string // runs: straight and branch
}

func newJoint(name string, straight, branch int32, areaS, areaB, areaC, cos float64) joint {
	return joint{
		name: name, straight: straight, branch: branch, areaS: areaS, areaB: areaB, areaC: areaC,
		ss: 1 / (areaS * areaS), bb: 1 / (areaB * areaB), cc: 1 / (areaC * areaC),
		sc: 1 / (areaS * areaC), bc: cos / (areaB * areaC), sb: cos / (areaS * areaB),
	}
}

// newJunction is the joint that a junction of the drawing is, between edges of three areas (m²).
func newJunction(j *shop.Junction, straight, branch int32, areaS, areaB, areaC float64) joint {
	out := newJoint(j.Name, straight, branch, areaS, areaB, areaC, math.Cos(j.Angle))
	out.legs = [2]string{j.Straight, j.Branch}
	if j.Kind == shop.Splitter {
		out.sc *= math.Cos(j.Angle)
		out.sb = math.Cos(2*j.Angle) / (areaS * areaB)
		return out
	}
	out.swept = sweptSaving(j.Swept, j.Angle) / (areaB * areaC)
	if j.Handbook {
		out.wide = wideStrength(areaB / areaC)
	}
	return out
}

// jointLoss is the loss of both legs in units of ρ/2 (m²/s²), with their derivatives by the flows of both.
type jointLoss struct {
	s, b           float64
	ss, sb, bs, bb float64 // sb: derivative of the straight leg's loss by the branch's flow
}

// loss of total pressure from the straight and from the branch leg to the combined one at the flows qs and qb (m³/s,
// positive towards the combined leg).
func (j *joint) loss(qs, qb float64) jointLoss {
	qc := qs + qb
	// Static pressure of the volume over the total pressure in the combined leg, and its derivatives by qs, qb.
	hs, hsIn, hsOut := carried(qs, qc)
	hb, hbIn, hbOut := carried(qb, qc)
	x := signedSquare(qc)*j.cc - 2*(hs*j.sc+hb*j.bc)
	dc := 2*abs(qc)*j.cc - 2*(hsOut*j.sc+hbOut*j.bc)
	xs, xb := dc-2*hsIn*j.sc, dc-2*hbIn*j.bc

	l := jointLoss{
		s: x + signedSquare(qs)*j.ss, ss: xs + 2*abs(qs)*j.ss, sb: xb,
		b: x + signedSquare(qb)*j.bb, bs: xs, bb: xb + 2*abs(qb)*j.bb,
	}
	if qs < 0 { // the straight leg leads away: what it takes along from the combined leg and from the branch
		h, in, out := carried(-qc, -qs)
		l.s += 2 * h * j.sc
		l.ss += 2 * j.sc * (-in - out)
		l.sb += 2 * j.sc * -in
		h, in, out = carried(qb, -qs)
		l.s -= 2 * h * j.sb
		l.ss += 2 * out * j.sb
		l.sb -= 2 * in * j.sb
	}
	if qb < 0 { // the branch leads away
		h, in, out := carried(-qc, -qb)
		l.b += 2 * h * j.bc
		l.bb += 2 * j.bc * (-in - out)
		l.bs += 2 * j.bc * -in
		h, in, out = carried(qs, -qb)
		l.b -= 2 * h * j.sb
		l.bb += 2 * out * j.sb
		l.bs -= 2 * in * j.sb
	}
	if j.swept > 0 {
		l.b -= j.swept * hb
		l.bs -= j.swept * hbOut
		l.bb -= j.swept * (hbIn + hbOut)
	}
	if j.wide > 0 {
		j.widened(&l, qb, qc)
	}
	return l
}

// carried is the square of the inflow that an outflow carries along: in² where all of the inflow leaves with it
// (in ≤ out), in·out where only a part does, both rounded into one another by φ(t) = 3t² - 2t³, t = out/in, so that
// the slope is continuous there and at no outflow; zero where either does not flow that way. It gives the value and
// its derivatives by both.
func carried(in, out float64) (h, dIn, dOut float64) {
	if in <= 0 || out <= 0 {
		return 0, 0, 0
	}
	if out >= in {
		return in * in, 2 * in, 0
	}
	t := out / in
	// in²·(3t² - 2t³) = 3·out² - 2·out³/in
	return out * out * (3 - 2*t), 2 * out * t * t, 6 * out * (1 - t)
}

func signedSquare(q float64) float64 { return q * abs(q) }

func abs(q float64) float64 {
	if q < 0 {
		return -q
	}
	return q
}

package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"ductward/internal/shop"
)

// handbook is the loss of a branch as the handbooks have it, on the velocity pressure of the combined leg.
func handbook(angle, area, share float64) float64 {
	j := newJunction(&shop.Junction{Kind: shop.Wye, Angle: rad(angle), Handbook: true}, 0, 1, 1, area, 1)
	return j.loss(1-share, share).b
}

// Crane TP-410 by the library fluids 1.0.22 (K_branch_converging_Crane), at a branch of 0.6 of the run's diameter.
func TestBranchByCrane(t *testing.T) {
	for _, tt := range []struct{ angle, share, want float64 }{{45, 0.25, 0.07591}, {45, 0.5, 0.7974}, {90, 0.5, 1.336}} {
		assert.InEpsilon(t, tt.want, handbook(tt.angle, 0.36, tt.share), 0.01, "%+v", tt)
	}
	// Idelchik, Handbook of Hydraulic Resistance, 3rd ed., ch. 7: a branch of at most 0.35 of the main has no factor,
	// and one as wide as the main 0.9·(1-q) up to q 0.4 and 0.55 beyond.
	narrow, _ := coefficients(45, 0.3, 0.5)
	assert.InEpsilon(t, narrow, handbook(45, 0.3, 0.5), 1e-12)
	for _, share := range []float64{0.1, 0.2, 0.3, 0.35} {
		wide, _ := coefficients(60, 1, share)
		assert.InEpsilon(t, 0.9*(1-share)*wide, handbook(60, 1, share), 1e-9, "q %g", share)
	}
	for _, share := range []float64{0.45, 0.7, 1} {
		wide, _ := coefficients(60, 1, share)
		assert.InEpsilon(t, 0.55*wide, handbook(60, 1, share), 1e-9, "q %g", share)
	}
}

// The run of a converging wye gains where a fast branch pulls it along: -0.23 by Crane (fluids 1.0.22,
// K_run_converging_Crane), whichever law the branch has.
func TestTheRunIsPulledEitherWay(t *testing.T) {
	j := newJunction(&shop.Junction{Kind: shop.Wye, Angle: rad(45), Handbook: true}, 0, 1, 1, 0.36, 1)
	assert.InEpsilon(t, -0.2292, j.loss(0.5, 0.5).s, 0.02)
}

// A swept branch loses less than a sharp one of the same angle, by at most 0.2·q²/a after Brandt, and a tenth of a
// diameter does nearly all; the run does not know of it.
func TestSweptBranch(t *testing.T) {
	at := func(angle, swept float64) jointLoss {
		j := newJunction(&shop.Junction{Kind: shop.Wye, Angle: rad(angle), Swept: swept}, 0, 1, 1, 0.6, 1)
		return j.loss(0.4, 0.6)
	}
	for _, angle := range []float64{45, 60, 90} {
		sharp, swept := at(angle, 0), at(angle, 0.5)
		assert.InEpsilon(t, 0.2*0.36/0.6, sharp.b-swept.b, 1e-6, "%g°", angle)
		assert.Equal(t, sharp.s, swept.s)
		assert.InEpsilon(t, 0.98, (sharp.b-at(angle, 0.1).b)/(sharp.b-swept.b), 0.01)
	}
	// Gardel's formula for converging tees (1957, from memory) has √(r/D)·q²·(1 - cos α/a) there, on a radius of up to
	// 0.12 of the main: another author's figure of the same size.
	saved := at(90, 0).b - at(90, 0.1).b
	assert.InEpsilon(t, math.Sqrt(0.1*math.Sqrt(0.6))*0.36, saved, 0.35)
	assert.Less(t, at(45, 0).b, at(90, 0.5).b, "a swept tee is still no wye")
}

// Both legs of a splitter lose alike, as the branches of wyes do; one leg alone loses what turning does.
func TestSplitter(t *testing.T) {
	j := newJunction(&shop.Junction{Kind: shop.Splitter, Angle: rad(30)}, 0, 1, 0.5, 0.5, 1)
	l := j.loss(0.5, 0.5)
	assert.InDelta(t, l.s, l.b, 1e-12)
	assert.InDelta(t, 1+1-2*math.Cos(rad(30)), l.s, 1e-12, "legs as fast as the stream: only their sideways momentum is lost")
	one := j.loss(1, 0)
	assert.InDelta(t, 1+4-4*math.Cos(rad(30)), one.s, 1e-12)
	flat := newJunction(&shop.Junction{Kind: shop.Splitter, Angle: rad(90)}, 0, 1, 1, 1, 1)
	assert.InDelta(t, 1.25, flat.loss(0.5, 0.5).s, 1e-12, "two streams head on keep nothing of their momentum")
}

func drawJunction(t *rapid.T) joint {
	area := rapid.Float64Range(0.2, 1.5)
	j := shop.Junction{
		Kind: rapid.SampledFrom([]shop.JunctionKind{shop.Wye, shop.Splitter}).Draw(t, "kind"), Handbook: rapid.Bool().Draw(t, "handbook"),
		Angle: rad(rapid.Float64Range(15, 90).Draw(t, "angle")), Swept: rapid.Float64Range(0, 0.3).Draw(t, "swept"),
	}
	return newJunction(&j, 0, 1, area.Draw(t, "As"), area.Draw(t, "Ab"), 1)
}

// Every derivative is that of the loss and the loss has no jump, whatever the kind and the signs of the flows, next to
// where one leg carries nothing too; and it goes with the square of the flows.
func TestJunctionDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJunction(t)
		flow := rapid.OneOf(rapid.Float64Range(-2, 2), rapid.Float64Range(-1e-4, 1e-4))
		qs, qb := flow.Draw(t, "qs"), flow.Draw(t, "qb")
		size := math.Max(abs(qs), abs(qb))
		if size < 1e-9 {
			return
		}
		h := 1e-6 * size
		l := j.loss(qs, qb)
		scale := 1e-3 * size / (j.areaS * j.areaS * j.areaB * j.areaB)
		for _, d := range []struct{ ds, db, s, b float64 }{{h, 0, l.ss, l.bs}, {0, h, l.sb, l.bb}} {
			up, down := j.loss(qs+d.ds, qb+d.db), j.loss(qs-d.ds, qb-d.db)
			assert.InDelta(t, (up.s-down.s)/(2*h), d.s, scale)
			assert.InDelta(t, (up.b-down.b)/(2*h), d.b, scale)
		}
		three := j.loss(3*qs, 3*qb)
		assert.InDelta(t, 9*l.s, three.s, 1e-9*(size*size+abs(three.s)))
		assert.InDelta(t, 9*l.b, three.b, 1e-9*(size*size+abs(three.b)))
	})
}

// Two streams that join never gain energy together, swept or not. (The handbooks' factor is one on measured losses and
// is not asked.)
func TestJunctionIsPassive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJunction(t)
		j.wide = 0
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		l := j.loss(1-share, share)
		assert.GreaterOrEqual(t, (1-share)*l.s+share*l.b, -1e-9)
	})
}

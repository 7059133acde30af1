package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// coefficients of a wye whose main keeps its area, on the velocity pressure of the combined leg: at a branch/main area
// ratio and a branch/total flow ratio.
func coefficients(angle, area, share float64) (branch, straight float64) {
	j := newJoint("", 0, 1, 1, area, 1, math.Cos(rad(angle)))
	l := j.loss(1-share, share)
	return l.b, l.s
}

// The converging wye of Idelchik, Handbook of Hydraulic Resistance, ch. 7, in its momentum form
// 1 + w² - 2(1-q)² - 2·cos α·q²/a with w = q/a; measured wyes differ by up to 20 %.
func TestWyeBranch(t *testing.T) {
	for _, tt := range []struct{ angle, area, share, want float64 }{
		{45, 0.36, 0.3, 0.3609},
		{60, 0.36, 0.3, 0.4644},
		{45, 0.5, 0.5, 0.7929},
		{30, 0.5, 0.5, 0.634},
		{45, 1, 0.5, 0.3964},
	} {
		got, _ := coefficients(tt.angle, tt.area, tt.share)
		assert.InEpsilon(t, tt.want, got, 0.001, "%+v", tt)
	}
}

// A 45° wye loses less than a 90° tee (common practice, no source; Crane TP-410 by fluids 1.0.22 has 0.80 and 1.34
// at branch/run diameter 0.6 with half the flow in the branch), and its fast branch pulls the run along: Crane has
// -0.23 for the run there.
func TestWyeOrder(t *testing.T) {
	wye, run := coefficients(45, 0.36, 0.5)
	tee, _ := coefficients(90, 0.36, 0.5)
	assert.Less(t, wye, tee)
	assert.Negative(t, run)
	// Crane's are this form times the factor that Idelchik gives for a branch wider than 0.35 of the main: 0.55 where it
	// carries more than 0.4 of the flow, 0.9·(1-q) below. The model leaves it out: it would bend the balance of momentum,
	// and the baseline of a shop absorbs it.
	assert.InEpsilon(t, 0.7974, 0.55*wye, 0.005)
	assert.InEpsilon(t, 1.336, 0.55*tee, 0.005)
	quarter, _ := coefficients(45, 0.36, 0.25)
	assert.InEpsilon(t, 0.07591, 0.9*0.75*quarter, 0.01)
	// ACGIH Industrial Ventilation has 0.18, 0.28 and 1.0 of the branch's velocity pressure at 30°, 45° and 90° (from
	// memory): the same order.
	shallow, _ := coefficients(30, 0.36, 0.5)
	assert.Less(t, shallow, wye)
}

// A branch that carries nothing makes the wye a straight duct, or a step where the main widens.
func TestWyeWithoutBranch(t *testing.T) {
	j := newJoint("", 0, 1, 0.5, 0.3, 1, math.Cos(rad(45)))
	assert.InDelta(t, (1/0.5-1)*(1/0.5-1), j.loss(1, 0).s, 1e-12, "Borda and Carnot")
	straight := newJoint("", 0, 1, 1, 0.3, 1, math.Cos(rad(45)))
	assert.InDelta(t, 0, straight.loss(1, 0).s, 1e-12)
	assert.InDelta(t, 0, straight.loss(-1, 0).s, 1e-12, "nor backwards")
}

func drawJoint(t *rapid.T) joint {
	area := rapid.Float64Range(0.2, 1.5)
	angle := rapid.Float64Range(15, 90).Draw(t, "angle")
	return newJoint("", 0, 1, area.Draw(t, "As"), area.Draw(t, "Ab"), 1, math.Cos(rad(angle)))
}

// Every derivative is that of the loss, whatever the signs of the flows.
func TestWyeDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJoint(t)
		flow := rapid.Float64Range(-2, 2)
		qs, qb := flow.Draw(t, "qs"), flow.Draw(t, "qb")
		const h = 1e-6
		l := j.loss(qs, qb)
		up, down := j.loss(qs+h, qb), j.loss(qs-h, qb)
		scale := 40 * (1 + abs(qs) + abs(qb))
		assert.InDelta(t, (up.s-down.s)/(2*h), l.ss, scale*1e-5)
		assert.InDelta(t, (up.b-down.b)/(2*h), l.bs, scale*1e-5)
		up, down = j.loss(qs, qb+h), j.loss(qs, qb-h)
		assert.InDelta(t, (up.s-down.s)/(2*h), l.sb, scale*1e-5)
		assert.InDelta(t, (up.b-down.b)/(2*h), l.bb, scale*1e-5)
	})
}

// What is mixed beyond the law is nothing while one leg stands, and with a little air from the idle leg twice the mixing and
// that air's share on the velocity pressure of the other leg. Its derivatives are those of the loss.
func TestMixing(t *testing.T) {
	j := newJoint("", 0, 1, 1, 0.5, 1, math.Cos(rad(45)))
	mixed := func(qs, qb float64) jointLoss {
		var l jointLoss
		j.mixed(&l, 0.2, qs, qb)
		return l
	}
	assert.Zero(t, mixed(0, 1).s)
	assert.Zero(t, mixed(1, 0).b)
	l := mixed(0.01, 1)
	assert.InDelta(t, 2*0.2*0.01*(1/(0.5*0.5)+1), l.s, 1e-12, "of ρ/2")
	assert.Equal(t, l.s, l.b)
	assert.InDelta(t, (mixed(0.011, 1).s-l.s)/0.001, l.ss, 1e-9)
	assert.InDelta(t, (mixed(0.01, 1.001).b-l.b)/0.001, l.bb, 1e-9)
	assert.Equal(t, [2]float64{l.ss, l.bb}, [2]float64{l.bs, l.sb})
}

// What stands in an idle leg is a share of the velocity pressure of the stream that passes it, and costs that stream nothing.
func TestStanding(t *testing.T) {
	j := newJoint("", 0, 1, 1, 0.5, 1, math.Cos(rad(45)))
	stands := func(qs, qb float64) jointLoss {
		var l jointLoss
		j.addBeyond(&l, &beyond{stands: [2]float64{0.2, -0.1}}, qs, qb)
		return l
	}
	l := stands(0, 3)
	assert.InDelta(t, 0.2*9/0.25, l.s, 1e-12)
	assert.Zero(t, l.b)
	assert.InDelta(t, -0.1*9, stands(3, 0).b, 1e-12)
	assert.InDelta(t, -0.2*9/0.25, stands(0, -3).s, 1e-12, "a stream that leaves pushes the other way")
	l = stands(1, 2)
	assert.InDelta(t, (stands(1, 2.0001).s-l.s)/0.0001, l.sb, 1e-3)
	assert.InDelta(t, (stands(1.0001, 2).b-l.b)/0.0001, l.bs, 1e-3)
	assert.Zero(t, l.ss)
	assert.Zero(t, l.bb)
}

// A little air from a leg takes twice its trickle's share of the velocity pressure of the stream that passes, from both, a like
// stream nothing. The derivatives are those of the loss, which is continuous where either stream turns.
func TestTrickle(t *testing.T) {
	j := newJoint("", 0, 1, 1, 0.5, 1, math.Cos(rad(45)))
	little := func(qs, qb float64) jointLoss {
		var l jointLoss
		j.addBeyond(&l, &beyond{little: [2]float64{0.1, -0.5}}, qs, qb)
		return l
	}
	assert.InEpsilon(t, 2*-0.5*2*2e-6, little(2, 2e-6).s, 1e-4)
	assert.InEpsilon(t, 2*0.1*2*2e-6/0.25, little(2e-6, 2).b, 1e-4)
	assert.Zero(t, little(1, 1))
	assert.Zero(t, little(0, 0))
	for _, q := range [][2]float64{{1, 0.3}, {0.3, 1}, {1, -0.3}, {-1, 0.3}, {-0.2, 1}, {0.2, -1}} {
		l, at, h := little(q[0], q[1]), little, 1e-6
		assert.Equal(t, l.s, l.b)
		assert.InDelta(t, (at(q[0]+h, q[1]).s-at(q[0]-h, q[1]).s)/(2*h), l.ss, 1e-6, q)
		assert.InDelta(t, (at(q[0], q[1]+h).b-at(q[0], q[1]-h).b)/(2*h), l.bb, 1e-6, q)
		assert.Equal(t, [2]float64{l.ss, l.bb}, [2]float64{l.bs, l.sb})
	}
	assert.InDelta(t, little(1, 1e-9).sb, little(1, -1e-9).sb, 1e-6)
}

// The loss goes with the square of the flows, in every direction.
func TestWyeScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJoint(t)
		flow := rapid.Float64Range(-2, 2)
		qs, qb := flow.Draw(t, "qs"), flow.Draw(t, "qb")
		one, three := j.loss(qs, qb), j.loss(3*qs, 3*qb)
		assert.InDelta(t, 9*one.s, three.s, 1e-9*(1+abs(three.s)))
		assert.InDelta(t, 9*one.b, three.b, 1e-9*(1+abs(three.b)))
	})
}

// Two streams that join never gain energy together: what the run gains the branch has lost. Where streams part, the
// rounding of the corner lets a little through, next to the flow of a leg turning.
func TestWyeIsPassive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJoint(t)
		flow := rapid.Float64Range(-2, 2)
		qs, qb := flow.Draw(t, "qs"), flow.Draw(t, "qb")
		l := j.loss(qs, qb)
		power := qs*l.s + qb*l.b
		if qs >= 0 && qb >= 0 {
			assert.GreaterOrEqual(t, power, -1e-9)
			return
		}
		most := math.Max(abs(qs), math.Max(abs(qb), abs(qs+qb)))
		narrow := math.Min(j.areaS, math.Min(j.areaB, j.areaC))
		assert.GreaterOrEqual(t, power, -0.2*most*most*most/(narrow*narrow))
	})
}

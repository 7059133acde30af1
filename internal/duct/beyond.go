package duct

import (
	"fmt"
	"math"
	"slices"
)

// beyond is what a wye takes from its streams beyond its law. Laws in use agree on the loss of a stream that flows alone, on which
// they were measured. They differ in what stands in a leg in which nothing flows, and in what a little air from it does.
type beyond struct {
	mixing float64
	stands [2]float64 // in the straight and in the branch leg
	little [2]float64 // of the straight and of the branch leg
}

// mixed adds what a wye takes from both streams, where both flow. A mixing of m is a loss of 2·m·Qs·Qb·(1/As² + 1/Ab²) in units
// of ρ/2, for both legs alike: of 2·m times the share of the slow stream on the velocity pressure of the fast one. The law of
// momentum here and that of the mean energy of the streams (ACGIH, Industrial Ventilation, from memory) differ as a mixing of
// -0.3 to 0.3 does, by the angle and the areas.
func (j *joint) mixed(l *jointLoss, m, qs, qb float64) {
	k := 2 * m * (j.ss + j.bb)
	l.s += k * qs * qb
	l.b += k * qs * qb
	l.ss += k * qb
	l.bs += k * qb
	l.sb += k * qs
	l.bb += k * qs
}

// standing adds what a wye takes from one leg for the stream of the other: the straight leg's share of the branch's velocity
// pressure and the branch's of the straight one's. With nothing flowing in a leg it is what its taps read beyond the law. For a
// branch at 45° of half the area of the run, what stands in the run lies below the total pressure behind the wye by 0.45
// velocity pressures of the branch by the law of momentum, by 0.6 to 0.7 where the mean energy of the streams is kept, and by
// nothing where streams meet at one total pressure (worked out; the laws from memory).
func (j *joint) standing(l *jointLoss, stands [2]float64, qs, qb float64) {
	l.s += stands[0] * j.bb * signedSquare(qb)
	l.sb += 2 * stands[0] * j.bb * abs(qb)
	l.b += stands[1] * j.ss * signedSquare(qs)
	l.bs += 2 * stands[1] * j.ss * abs(qs)
}

// trickled adds what a little air from one leg takes from both streams, in which laws differ that agree on streams of like size:
// 2·t times its share on the velocity pressure of the stream that passes it, less and less as it becomes as large. With the
// straight stream passing, the law of momentum takes 2 shares (t = 0), the mean energy 1 (-0.5), one total pressure nothing
// (-1); with the branch passing they lie -0.15 to 0.15 from each other in branches of up to half the area of the run.
func (j *joint) trickled(l *jointLoss, little [2]float64, qs, qb float64) {
	if abs(qs) < abs(qb) {
		x, own, other := trickle(2*little[0]*j.bb, qs, qb)
		l.s, l.ss, l.sb = l.s+x, l.ss+own, l.sb+other
		l.b, l.bs, l.bb = l.b+x, l.bs+own, l.bb+other
		return
	}
	x, own, other := trickle(2*little[1]*j.ss, qb, qs)
	l.s, l.sb, l.ss = l.s+x, l.sb+own, l.ss+other
	l.b, l.bb, l.bs = l.b+x, l.bb+own, l.bs+other
}

// trickle is k·q·|p|·w² with w = (|p|-|q|)/(|p|+|q|), for a small flow q beside a larger one p, and its derivatives by q and p.
func trickle(k, q, p float64) (x, byQ, byP float64) {
	a, b := abs(q), abs(p)
	if k == 0 || b == 0 {
		return 0, 0, 0
	}
	sum := a + b
	w := (b - a) / sum
	wq, wp := -2*b/(sum*sum), 2*a/(sum*sum) // by |q| and |p|
	sign := math.Copysign(1, p)
	return k * q * b * w * w, k * b * w * (w + 2*a*wq), k * q * w * (w + 2*b*wp) * sign
}

// addBeyond adds all that a wye takes beyond its law.
func (j *joint) addBeyond(l *jointLoss, b *beyond, qs, qb float64) {
	if *b == (beyond{}) {
		return
	}
	j.mixed(l, b.mixing, qs, qb)
	j.standing(l, b.stands, qs, qb)
	j.trickled(l, b.little, qs, qb)
}

// setBeyond sets what wyes take beyond their law.
func (w *work) setBeyond(st *State) error {
	clear(w.beyond)
	known := 0
	take := func(to *float64, from map[string]float64, name string) {
		if x, named := from[name]; named {
			*to = x
			known++
		}
	}
	for k := range w.m.joints {
		j, b := &w.m.joints[k], &w.beyond[k]
		take(&b.mixing, st.Mixing, j.name)
		sum := b.mixing
		for i, leg := range j.legs {
			take(&b.stands[i], st.Standing, leg)
			take(&b.little[i], st.Trickle, leg)
			sum += b.stands[i] + b.little[i]
		}
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			return fmt.Errorf("what the wye of junction %q takes beyond its law is mixing %g, standing %g, trickle %g; all must be numbers",
				j.name, b.mixing, b.stands, b.little)
		}
	}
	if known == len(st.Mixing)+len(st.Standing)+len(st.Trickle) {
		return nil
	}
	for _, name := range keys(st.Mixing) {
		if !slices.Contains(w.m.Wyes(), name) {
			return w.unknown("wye", []string{name}, w.m.Wyes())
		}
	}
	return w.unknown("leg of a wye", append(keys(st.Standing), keys(st.Trickle)...), w.m.Legs())
}

// Wyes names the junctions whose wye the model has.
func (m *Model) Wyes() []string {
	var out []string
	for k := range m.joints {
		out = append(out, m.joints[k].name)
	}
	return out
}

// Legs names the runs that end in a wye.
func (m *Model) Legs() []string {
	var out []string
	for k := range m.joints {
		out = append(out, m.joints[k].legs[:]...)
	}
	return out
}

func is(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// pushBeyond: what a wye takes beyond its law goes with its mixing and with what stands in its legs.
func (w *work) pushBeyond(p Param) error {
	var b beyond
	k := slices.IndexFunc(w.m.joints, func(j joint) bool {
		switch {
		case p.Kind == Mixed && j.name == p.Part:
			b.mixing = 1
		case p.Kind == Stands:
			b.stands[0], b.stands[1] = is(j.legs[0] == p.Part), is(j.legs[1] == p.Part)
		}
		return b != beyond{}
	})
	switch {
	case k < 0 && p.Kind == Mixed:
		return w.unknown("wye", []string{p.Part}, w.m.Wyes())
	case k < 0:
		return w.unknown("leg of a wye", []string{p.Part}, w.m.Legs())
	}
	j, unit := &w.m.joints[k], w.scene.wye*w.scene.air.Density/2
	var l jointLoss
	j.addBeyond(&l, &b, w.q[j.straight], w.q[j.branch])
	w.r[j.straight], w.r[j.branch] = unit*l.s, unit*l.b
	return nil
}

package plant

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// junctions tells the legs of each wye where they meet. A junction without a law of its own is a plain node of total
// pressure.
func (b *builder) junctions() error {
	for _, j := range b.c.Network.Junctions {
		if j.Kind == shop.Lossless {
			continue
		}
		w := wye{node: b.juncs[j.Name], out: -1, recovery: 0.6}
		for i := range b.n.segments {
			e := &b.n.segments[i]
			if e.from == w.node {
				w.out = i
			}
			if e.to != w.node {
				continue
			}
			w.legs = append(w.legs, i)
			e.wye = len(b.n.wyes)
			if name := b.c.Network.Runs[e.run].Name; name == j.Branch || name == j.Straight && j.Kind == shop.Splitter {
				e.branchLoss = branchEntry(j.Angle) * corner(j.Swept)
			}
		}
		if w.out < 0 || len(w.legs) < 2 {
			return fmt.Errorf("junction %q: a wye needs two runs that end in it and one that leaves; it has %d and %v",
				j.Name, len(w.legs), w.out >= 0)
		}
		b.n.wyes = append(b.n.wyes, w)
	}
	return nil
}

// corner returns what is left of a branch's entry loss where its corner is rounded with a radius that is a share of its
// diameter: a well rounded one spares a third (an invention of this plant).
func corner(swept float64) float64 { return 1 - math.Min(swept/0.1, 1)/3 }

// lift returns by how much the total pressure of the mixed stream lies above the static pressure at which its streams
// meet, in Pa. The streams keep their energy: where the mixed stream is at least as fast as they were, it starts at
//
//	VPr = Σ Q·VP / Σ Q
//
// above the common static pressure (ACGIH Industrial Ventilation's resultant velocity pressure, from memory); where it
// is slower, only the share w.recovery of the difference to its own velocity pressure is regained.
func (s *solver) lift(w *wye) (lift, total float64) {
	energy := 0.0
	for _, l := range w.legs {
		q := s.q[l] + s.ending[l]
		if q <= 0 {
			continue
		}
		total += q
		energy += q * s.p.net.segments[l].velocityPressure(q, s.rho)
	}
	if total <= rest {
		return 0, 0
	}
	mixed := energy / total
	own := s.p.net.segments[w.out].velocityPressure(total, s.rho)
	if own >= mixed {
		return mixed, total
	}
	return own + w.recovery*(mixed-own), total
}

// rest is a flow that counts as none, m³/s.
const rest = 1e-9

// meet adds to a leg's loss what it gives up on entering its wye, in Pa: its own velocity pressure and its entry loss,
// less the lift of the mixed stream; and the slope of all this by the leg's own flow. What leaked in at its end is part of
// that: it has to be sped up like all other air.
func (s *solver) meet(i int, dp, slope float64) (float64, float64) {
	e := &s.p.net.segments[i]
	q := s.q[i] + s.ending[i]
	vp := e.velocityPressure(q, s.rho)
	dp -= s.lifts[e.wye]
	if q <= 0 {
		return dp, slope // air that leaves a wye through a leg takes the static pressure with it
	}
	dp += (1 + e.branchLoss) * vp
	own := 2 * (1 + e.branchLoss) * vp / q
	total := s.totals[e.wye]
	mixing := 0.0
	if total > rest {
		mixing = (3*vp - s.lifts[e.wye]) / total
	}
	return dp, slope + max(own-mixing, 0.1*own)
}

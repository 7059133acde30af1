package duct

import (
	"math"

	"ductward/internal/shop"
)

// Two elbows close behind one another do not lose what two lone ones do: the second meets air that still turns. What is
// known of it is a factor on the sum of both, by the straight duct between them (in diameters, along the centre line)
// and by how the second turns:
//
//   - bends with a radius that turn the same way are, with nothing between, one bend of both angles, whose loss the
//     table of angles gives (SMACNA HVAC Systems Duct Design, 4th ed., Table A-7, note 1);
//   - mitred elbows of 90° that turn back: ASHRAE Handbook Fundamentals, fitting CR3-17 (after Idelchik, diagram 6-11),
//     for square duct; the offset of 30°: SMACNA, same table (from memory);
//   - mitred elbows of 90° into different planes: the same table (from memory, after Idelchik, diagram 6-12).
//
// Two alike that are ten diameters apart are as good as alone: single and paired elbows of six makes agree there to
// about 10 % (Mylaram and Idem, ASHRAE winter meeting 2005). For all other pairs there is no figure that could be read,
// and each counts as if it were alone.
const aloneAt = 10.0 // diameters

var (
	offsetStraight = []float64{0, 0.4, 0.6, 0.8, 1, 1.2, 1.4, 1.6, 1.8, 2, 4, 8, 10}
	offsetLoss     = []float64{0, 0.62, 0.90, 1.61, 2.63, 3.61, 4.01, 4.18, 4.22, 4.18, 3.08, 2.75, 2.45}

	asideStraight = []float64{0, 0.4, 0.6, 0.8, 1, 1.2, 1.4, 1.6, 1.8, 2, 2.4, 2.8, 3.2, 4, 5, 6, 7, 9, 10}
	asideLoss     = []float64{1.15, 2.40, 2.90, 3.31, 3.44, 3.40, 3.36, 3.28, 3.20, 3.11, 3.16, 3.18, 3.15, 3.00, 2.89, 2.78, 2.70, 2.50, 2.41}

	slightStraight = []float64{0, 0.5, 3, aloneAt} // an offset of 30°: half of two lone ones
	slightFactor   = []float64{0, 0.47, 0.5, 1}
)

// pairFactor is the factor on the losses of an elbow and of the one right behind it.
func pairFactor(first, second shop.Fitting) float64 {
	s := second.Spacing
	if second.Pair == shop.NoPair || !(s < aloneAt) {
		return 1
	}
	a, b := first.Angle*180/math.Pi, second.Angle*180/math.Pi
	switch mitred := isMitred(first); {
	case mitred != isMitred(second):
		return 1
	case !mitred && second.Pair == shop.SameWay:
		one := along(turnAngle, turnFactor, a+b) / (along(turnAngle, turnFactor, a) + along(turnAngle, turnFactor, b))
		return math.Min(1, one+(1-one)*s/aloneAt)
	case mitred && second.Pair == shop.Back:
		return between(slightFactorAt(s), relative(offsetStraight, offsetLoss, s), a, b)
	case mitred && second.Pair == shop.Aside:
		return between(1, relative(asideStraight, asideLoss, s), a, b)
	}
	return 1
}

func slightFactorAt(s float64) float64 { return along(slightStraight, slightFactor, s) }

// relative reads a table as a share of its far end, where both elbows are alone.
func relative(xs, ys []float64, x float64) float64 { return along(xs, ys, x) / ys[len(ys)-1] }

// between reads along a straight line between a factor for 30° and one for 90°, at the mean turn of two elbows.
func between(slight, full, a, b float64) float64 {
	t := math.Max(0, math.Min(1, ((a+b)/2-30)/60))
	return slight + (full-slight)*t
}

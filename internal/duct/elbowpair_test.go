package duct

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/shop"
)

// bend is an elbow of 1.5 diameters unless it is mitred.
func bend(angle float64, kind shop.ElbowMake) shop.Fitting {
	return shop.Fitting{Kind: shop.Elbow, Angle: rad(angle), RadiusRatio: 1.5, Make: kind, Pieces: 5}
}

// behind is the same elbow a number of diameters behind another.
func behind(f shop.Fitting, spacing float64, pair shop.PairTurn) shop.Fitting {
	f.Spacing, f.Pair = spacing, pair
	return f
}

// sumOf is the loss of fittings in one run.
func sumOf(t require.TestingT, fittings ...shop.Fitting) float64 {
	k, err := fittingLosses(&shop.Run{Diameter: 0.15, Fittings: fittings})
	require.NoError(t, err)
	sum := 0.0
	for _, x := range k {
		sum += x
	}
	return sum
}

// Two bends that turn the same way with nothing between are one bend of both angles: SMACNA HVAC Systems Duct Design,
// 4th ed., Table A-7, note 1, has 0.60 of a 90° elbow for one of 45° and 1.00 for one of 90° (1.40 for 180°: from
// memory).
func TestTwoBendsAreOne(t *testing.T) {
	for _, kind := range []shop.ElbowMake{shop.SmoothElbow, shop.GoredElbow, shop.HoseElbow} {
		whole := sumOf(t, bend(90, kind))
		assert.InEpsilon(t, whole, sumOf(t, bend(45, kind), behind(bend(45, kind), 0, shop.SameWay)), 1e-12)
		assert.InEpsilon(t, 1.4*whole, sumOf(t, bend(90, kind), behind(bend(90, kind), 0, shop.SameWay)), 1e-12)
		assert.InEpsilon(t, 2*whole, sumOf(t, bend(90, kind), behind(bend(90, kind), 10, shop.SameWay)), 1e-12)
		assert.Equal(t, 2*whole, sumOf(t, bend(90, kind), bend(90, kind)), "nothing said, nothing changed")
	}
}

// An offset of two mitred 90s: ASHRAE Handbook Fundamentals, fitting CR3-17, for square duct (as a published program
// has typed it in): with one width between 2.63, with 1.8 widths 4.22, with ten 2.45.
func TestMitredOffset(t *testing.T) {
	alone := 2 * mitredLoss[len(mitredLoss)-1]
	for _, tt := range []struct{ spacing, want float64 }{{0.6, 0.90}, {1, 2.63}, {1.8, 4.22}, {4, 3.08}, {10, 2.45}} {
		pair := sumOf(t, bend(90, shop.MitredElbow), behind(bend(90, shop.MitredElbow), tt.spacing, shop.Back))
		assert.InEpsilon(t, tt.want, pair, 0.03, "%g widths: square duct's 1.18 is round duct's 1.2", tt.spacing)
		assert.InEpsilon(t, tt.want/2.45, pair/alone, 1e-9)
	}
	// The offset of 30°, round: 0.16 (SMACNA, same table, from memory), half of two lone mitres.
	slight := sumOf(t, bend(30, shop.MitredElbow), behind(bend(30, shop.MitredElbow), 2, shop.Back))
	assert.InEpsilon(t, 0.16, slight, 0.05)
	// Into another plane, one width on: 3.44 of 2.41 (from memory).
	aside := sumOf(t, bend(90, shop.MitredElbow), behind(bend(90, shop.MitredElbow), 1, shop.Aside))
	assert.InEpsilon(t, 3.44/2.41, aside/alone, 1e-9)
}

// Single and paired elbows agree far apart to about 10 % (Mylaram and Idem, ASHRAE winter meeting 2005): no factor is
// left at ten diameters, whatever the pair, and none jumps on the way there.
func TestPairsFadeOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom([]shop.ElbowMake{shop.SmoothElbow, shop.GoredElbow, shop.MitredElbow, shop.HoseElbow})
		first := bend(rapid.Float64Range(10, 90).Draw(t, "first"), kind.Draw(t, "make"))
		second := bend(rapid.Float64Range(10, 90).Draw(t, "second"), kind.Draw(t, "other make"))
		second.Pair = shop.PairTurn(rapid.IntRange(0, 3).Draw(t, "pair"))
		second.Spacing = rapid.Float64Range(0, 12).Draw(t, "spacing")
		f := pairFactor(first, second)
		says := fmt.Sprintf("%+v %+v", first, second)
		assert.GreaterOrEqual(t, f, 0.0, says)
		assert.LessOrEqual(t, f, 1.8, says)
		near := second
		near.Spacing += 1e-6
		assert.InDelta(t, f, pairFactor(first, near), 1e-5, says)
		far := second
		far.Spacing = 10
		assert.Equal(t, 1.0, pairFactor(first, far), says)
	})
}

// In a row of three each elbow has a part in both pairs, and every loss stays a loss.
func TestThreeInARow(t *testing.T) {
	one := bend(45, shop.SmoothElbow)
	next := behind(one, 0, shop.SameWay)
	k, err := fittingLosses(&shop.Run{Diameter: 0.15, Fittings: []shop.Fitting{one, next, next}})
	require.NoError(t, err)
	f := pairFactor(one, next)
	alone := sumOf(t, one)
	assert.InDeltaSlice(t, []float64{f * alone, f * f * alone, f * alone}, k, 1e-12)
	_, err = fittingLosses(&shop.Run{Diameter: 0.15, Fittings: []shop.Fitting{{Kind: shop.FixedLoss, Coefficient: -1, Line: 9}}})
	assert.ErrorContains(t, err, "line 9")
}

package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// brandt is the converging junction of a third author, F. Brandt, Dampferzeuger, FDBR Fachbuch vol. 3 (as a published
// program has typed it in), with a sharp corner and a main that keeps its area: the losses of branch and run on the
// velocity pressure of the combined leg.
func brandt(angle, area, share float64) (branch, straight float64) {
	ratio, cos := 1/area, math.Cos(rad(angle))
	w, rest := ratio*share, 1-share
	c := 0.25 * math.Pow(ratio-0.04, 0.26)
	e := 1.29*math.Pow(ratio, -0.17) - 0.94
	branch = 2*(1-0.97*rest*rest-w*(share*(c-0.1+0.4*cos)+e)) - (1 - w*w)
	c = 1.05 - 0.475*math.Exp(-2.26*(ratio-1))
	e = 0.468 * math.Pow(ratio, -2.17)
	straight = 2*(1-0.981*rest*rest-w*(share*(c*cos-0.11)+e)) - (1 - rest*rest)
	return branch, straight
}

// How far the laws of three authors are apart, over the shares of flow that matter. The balance of momentum stands for
// narrow branches; on wide ones, from half the main's area on, Brandt lies with Idelchik's and Crane's factor, and the
// balance alone is too high. The run's loss agrees but for the widest tees.
func TestThirdAuthorOfJunctions(t *testing.T) {
	shares := []float64{0.4, 0.5, 0.6, 0.7, 0.8}
	for _, angle := range []float64{45, 60, 90} {
		for _, area := range []float64{0.5, 0.75, 1} {
			var byFactor, byMomentum float64
			for _, share := range shares {
				third, _ := brandt(angle, area, share)
				factor := handbook(angle, area, share)
				momentum, _ := coefficients(angle, area, share)
				assert.InDelta(t, third, factor, 0.15+0.35*third, "%g°, a %g, q %g", angle, area, share)
				byFactor += math.Abs(third - factor)
				byMomentum += math.Abs(third - momentum)
			}
			if area > 0.5 {
				assert.Less(t, byFactor, byMomentum, "%g°, a %g, over all shares", angle, area)
			}
		}
		for _, area := range []float64{0.36, 0.5, 0.75} {
			for _, share := range shares {
				_, third := brandt(angle, area, share)
				_, run := coefficients(angle, area, share)
				assert.InDelta(t, third, run, 0.36, "run: %g°, a %g, q %g", angle, area, share)
			}
		}
	}
	for _, share := range shares { // the narrow shallow wye: the balance is right, the factor is not
		third, _ := brandt(45, 0.3, share)
		momentum, _ := coefficients(45, 0.3, share)
		assert.InEpsilon(t, third, momentum, 0.2, "q %g", share)
	}
	for _, angle := range []float64{30, 45, 60} { // a branch with next to no flow is sucked along by both
		third, _ := brandt(angle, 0.5, 0.02)
		momentum, _ := coefficients(angle, 0.5, 0.02)
		assert.InDelta(t, third, momentum, 0.1)
	}
}

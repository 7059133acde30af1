package duct

import (
	"math"

	"ductward/internal/shop"
)

// The tables of SMACNA HVAC Systems Duct Design, 4th ed., Table A-7, for round elbows without vanes; coefficients on
// the velocity pressure of the duct. They predict a real elbow to some 15 %. Between entries they are read along
// straight lines; beyond the first and last radius ratio the nearest one holds. The entries named below each table are
// from memory, the others were read.
var (
	smoothRadius = []float64{0.5, 0.75, 1.0, 1.5, 2.0, 2.5} // Table A-7 A, 90° of smooth radius (die stamped)
	smoothLoss   = []float64{0.71, 0.33, 0.22, 0.15, 0.13, 0.12}

	goredRadius = []float64{0.75, 1.0, 1.5, 2.0} // Table A-7 B, 90° of 3, 4 and 5 pieces
	goredLoss   = [3][]float64{
		{0.54, 0.42, 0.34, 0.33}, // from memory: 0.42
		{0.50, 0.37, 0.27, 0.24}, // from memory: 0.50 and 0.27
		{0.46, 0.33, 0.24, 0.19}, // from memory: 0.19
	}

	mitredAngle = []float64{0, 20, 30, 45, 60, 75, 90}             // Table A-7 C, in degrees
	mitredLoss  = []float64{0, 0.08, 0.16, 0.34, 0.55, 0.81, 1.20} // from memory: 0.08 and 0.55

	turnAngle  = []float64{0, 20, 30, 45, 60, 75, 90, 110, 130, 150, 180}                 // Table A-7 note 1, in degrees
	turnFactor = []float64{0, 0.31, 0.45, 0.60, 0.78, 0.90, 1.00, 1.13, 1.20, 1.28, 1.40} // from memory: 20°, 75° and beyond 90°
)

// The radius ratio and the number of pieces of an elbow that does not say.
const (
	usualRadiusRatio = 1.5
	usualPieces      = 5
)

// elbowLoss is the loss coefficient of an elbow.
func elbowLoss(f shop.Fitting) float64 {
	degrees := f.Angle * 180 / math.Pi
	ratio := f.RadiusRatio
	if !(ratio > 0) {
		ratio = usualRadiusRatio
	}
	switch {
	case isMitred(f):
		if degrees > 90 {
			return along(mitredAngle, mitredLoss, 90) * along(turnAngle, turnFactor, degrees)
		}
		return along(mitredAngle, mitredLoss, degrees)
	case f.Make == shop.GoredElbow:
		return goredAt(ratio, f.Pieces) * along(turnAngle, turnFactor, degrees)
	case f.Make == shop.HoseElbow:
		return hoseBend * along(smoothRadius, smoothLoss, ratio) * along(turnAngle, turnFactor, degrees)
	default:
		return along(smoothRadius, smoothLoss, ratio) * along(turnAngle, turnFactor, degrees)
	}
}

// isMitred tells whether an elbow has one seam and no radius.
func isMitred(f shop.Fitting) bool {
	return f.Make == shop.MitredElbow || f.Make == shop.GoredElbow && f.Pieces == 2
}

// goredAt is the loss of a 90° elbow of a number of pieces; more than five are as good as five.
func goredAt(ratio float64, pieces int) float64 {
	if pieces <= 0 {
		pieces = usualPieces
	}
	pieces = max(3, min(pieces, 5))
	return along(goredRadius, goredLoss[pieces-3], ratio)
}

// along reads y at a value of x from a table with rising xs, along straight lines, and holds its ends.
func along(xs, ys []float64, x float64) float64 {
	if x <= xs[0] {
		return ys[0]
	}
	for i := 1; i < len(xs); i++ {
		if x <= xs[i] {
			return ys[i-1] + (ys[i]-ys[i-1])*(x-xs[i-1])/(xs[i]-xs[i-1])
		}
	}
	return ys[len(ys)-1]
}

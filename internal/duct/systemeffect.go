package duct

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// A fan is rated with air that comes straight in. An elbow right before it loads one side of the wheel, and the fan
// gives less than its curve says. The system effect is told as a loss on the velocity pressure at the inlet, without,
// with 2 and with 5 diameters of straight duct between: ASHRAE 1988 after AMCA 201. The table for square elbows was
// read; those for round ones are from memory. Beyond 5 diameters it is let fall to nothing at 10, a choice of ours.
var (
	inletStraight = []float64{0, 2, 5, 10}

	squareInletRadius = []float64{0.5, 0.75, 1, 2}
	squareInlet       = [][]float64{{2.50, 1.60, 0.80}, {2.00, 1.20, 0.66}, {1.20, 0.66, 0.33}, {0.80, 0.47, 0.26}}

	roundInletRadius = []float64{0.5, 0.75, 1, 2, 3}
	threePieceInlet  = [][]float64{{2.50, 1.60, 0.80}, {1.60, 1.00, 0.47}, {1.20, 0.66, 0.33}, {1.00, 0.53, 0.33}, {0.80, 0.47, 0.26}}
	fourPieceInlet   = [][]float64{{1.80, 1.00, 0.53}, {1.40, 0.80, 0.40}, {1.20, 0.66, 0.33}, {1.00, 0.53, 0.33}, {0.66, 0.40, 0.22}}
	mitredInlet      = []float64{3.20, 2.00, 1.00}
)

// inletEffect is what a poor inlet takes from the fan's rise, in Pa at 1 m³/s and 1 kg/m³, on ρQ².
func inletEffect(in *shop.FanInlet) (float64, error) {
	if in == nil {
		return 0, nil
	}
	if !(in.Diameter > 0) {
		return 0, fmt.Errorf("fan inlet: diameter %g m must be positive", in.Diameter)
	}
	k := in.Coefficient
	if math.IsNaN(k) {
		k = inletLoss(in)
	}
	if !(k >= 0) || math.IsInf(k, 1) {
		return 0, fmt.Errorf("fan inlet: coefficient %g must be a number and not negative", k)
	}
	area := circle(in.Diameter)
	return k / (2 * area * area), nil
}

// inletLoss is the system effect of an elbow before the fan, on the velocity pressure at the inlet. A smooth round
// elbow counts as one of many pieces.
func inletLoss(in *shop.FanInlet) float64 {
	switch {
	case in.Square:
		return inletAt(squareInletRadius, squareInlet, in)
	case in.Make == shop.MitredElbow, in.Make == shop.GoredElbow && in.Pieces == 2:
		return math.Max(0, along(inletStraight, append(mitredInlet[:3:3], 0), in.Straight))
	case in.Make == shop.GoredElbow && in.Pieces == 3:
		return inletAt(roundInletRadius, threePieceInlet, in)
	default:
		return inletAt(roundInletRadius, fourPieceInlet, in)
	}
}

// inletAt reads a table by radius ratio and straight duct, along straight lines.
func inletAt(radius []float64, table [][]float64, in *shop.FanInlet) float64 {
	row := make([]float64, len(inletStraight)) // the last, at 10 diameters, is nothing
	for k := range table[0] {
		column := make([]float64, len(radius))
		for i := range radius {
			column[i] = table[i][k]
		}
		row[k] = along(radius, column, in.RadiusRatio)
	}
	return math.Max(0, along(inletStraight, row, in.Straight)) // rounding at its end
}

package duct

import (
	"fmt"
	"math"

	"ductward/internal/air"
	"ductward/internal/shop"
)

// Losses of entries on the velocity pressure of the duct: ACGIH Industrial Ventilation, 24th ed. (2001), fig. 3-16 and
// ch. 5. Idelchik gives 1.0 for a plain thin-walled end where ACGIH has 0.93.
const (
	plainEntryLoss     = 0.93
	flangedEntryLoss   = 0.49
	bellmouthEntryLoss = 0.04
)

// Bell mouths by the radius of their rounding over the diameter, without an end wall: Idelchik 1986, diagram 3-4 (ASHRAE
// Principles of HVAC, 9th ed., fitting 1-2). Read: 1.0, 0.15 and 0.03 at 0, 0.1 and 0.2; the others from memory.
var (
	mouthRadius = []float64{0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10, 0.12, 0.16, 0.20}
	mouthLoss   = []float64{1.0, 0.87, 0.74, 0.61, 0.51, 0.40, 0.32, 0.20, 0.15, 0.10, 0.06, 0.03}
)

// fittingLoss is the loss coefficient of one fitting on the velocity pressure in the run's own diameter (m).
func fittingLoss(f shop.Fitting, diameter float64) (float64, error) {
	var k float64
	switch f.Kind {
	case shop.Elbow:
		k = elbowLoss(f)
	case shop.Entry:
		k = entryLoss(f, diameter)
	case shop.Contraction:
		k = contractionLoss(diameter/f.LargeDiameter, f.Angle)
	case shop.Expansion:
		k = expansionLoss(diameter/f.LargeDiameter, f.Angle)
	case shop.Screen:
		k = screenLoss(f.FreeArea)
	case shop.FixedLoss:
		k = f.Coefficient
	case shop.MeasuredLoss:
		v := f.MeasuredFlow / circle(diameter)
		k = f.MeasuredDrop / (air.Reference().Density * v * v / 2)
	default:
		return 0, fmt.Errorf("fitting of unknown kind %d", f.Kind)
	}
	if !(k >= 0) || math.IsInf(k, 1) {
		return 0, fmt.Errorf("fitting (line %d) has the loss coefficient %g; it must be a number and not negative", f.Line, k)
	}
	return k, nil
}

// fittingLosses are the loss coefficients of a run's fittings, in their order, on the velocity pressure in it, with what
// elbows close behind one another do to each other.
func fittingLosses(r *shop.Run) ([]float64, error) {
	k := make([]float64, len(r.Fittings))
	for i, f := range r.Fittings {
		var err error
		if k[i], err = fittingLoss(f, r.Diameter); err != nil {
			return nil, err
		}
	}
	for i := 1; i < len(k); i++ {
		first, second := r.Fittings[i-1], r.Fittings[i]
		if first.Kind == shop.Elbow && second.Kind == shop.Elbow {
			factor := pairFactor(first, second)
			k[i-1] *= factor
			k[i] *= factor
		}
	}
	return k, nil
}

// orificeEntryLoss is that of a sharp-edged opening in a plate before the duct, a share of its diameter wide: Idelchik,
// diagram 3-12 (from memory), ζ = (1.707/f - 1)² with f the share of the area. As wide as the duct it is a flush entry.
func orificeEntryLoss(share float64) float64 {
	x := 1.707/(share*share) - 1
	return x * x
}

func entryLoss(f shop.Fitting, diameter float64) float64 {
	switch f.Entry {
	case shop.OrificeEntry:
		return orificeEntryLoss(f.Bore / diameter)
	case shop.FlangedEntry:
		return flangedEntryLoss
	case shop.BellmouthEntry:
		if f.RadiusRatio > 0 {
			return along(mouthRadius, mouthLoss, f.RadiusRatio)
		}
		return bellmouthEntryLoss
	default:
		return plainEntryLoss
	}
}

// contractionLoss is the loss of a cone from a large to a small diameter, on the velocity pressure in the small one;
// beta is small over large, angle the full cone angle (rad), 0 or none for an abrupt one. Crane TP-410 (from memory),
// App. A, formulas 1 and 2: 0.8·sin(θ/2)·(1-β²) to 45°, 0.5·√sin(θ/2)·(1-β²) beyond. Other authors differ by 30 %.
func contractionLoss(beta, angle float64) float64 {
	s := math.Sin(coneAngle(angle) / 2)
	area := 1 - beta*beta
	if coneAngle(angle) <= math.Pi/4 {
		return 0.8 * s * area
	}
	return 0.5 * math.Sqrt(s) * area
}

// expansionLoss is the loss of a cone from a small to a large diameter, on the velocity pressure in the small one: that
// of Borda and Carnot, (1-β²)², beyond 45° and 2.6·sin(θ/2) of it below. Crane TP-410 (from memory), App. A,
// formulas 3 and 4.
func expansionLoss(beta, angle float64) float64 {
	area := (1 - beta*beta) * (1 - beta*beta)
	return area * math.Min(1, 2.6*math.Sin(coneAngle(angle)/2))
}

// coneAngle reads an angle that was not given as an abrupt step.
func coneAngle(angle float64) float64 {
	if !(angle > 0) || angle > math.Pi {
		return math.Pi
	}
	return angle
}

// screenLoss is the loss of a wire screen of a free area (0..1), on the velocity pressure of the duct: Idelchik,
// Handbook of Hydraulic Resistance, diagram 8-6 (from memory), ζ = 1.3·(1-f) + (1/f - 1)², for Re of the wire above
// 1000.
func screenLoss(free float64) float64 {
	return 1.3*(1-free) + (1/free-1)*(1/free-1)
}

// circle is the area (m²) of a round duct of a diameter (m).
func circle(diameter float64) float64 { return math.Pi / 4 * diameter * diameter }

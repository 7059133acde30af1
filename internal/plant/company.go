package plant

import (
	"math"

	"ductward/internal/shop"
)

// company returns the factor on an elbow's loss that its neighbours in the list put on it; 1 for everything else. The
// figures are inventions of this plant, of the size that handbooks have: two bends that turn on lose a quarter less,
// an offset of mitres half as much more, and all is over six diameters on.
func company(fittings []shop.Fitting, i int) float64 {
	factor := 1.0
	if fittings[i].Kind != shop.Elbow {
		return factor
	}
	if i > 0 && fittings[i-1].Kind == shop.Elbow {
		factor *= together(fittings[i-1], fittings[i])
	}
	if i+1 < len(fittings) && fittings[i+1].Kind == shop.Elbow {
		factor *= together(fittings[i], fittings[i+1])
	}
	return factor
}

// together returns the factor on two elbows in a row.
func together(first, second shop.Fitting) float64 {
	near := math.Max(0, 1-second.Spacing/6)
	mitres := first.Make == shop.MitredElbow && second.Make == shop.MitredElbow
	turn := math.Min(first.Angle, second.Angle) / (math.Pi / 2)
	switch {
	case second.Pair == shop.SameWay && !mitres:
		return 1 - 0.25*near
	case second.Pair == shop.Back && mitres:
		return 1 + (0.9*turn-0.4)*near
	case second.Pair == shop.Aside && mitres:
		return 1 + 0.3*turn*near
	}
	return 1
}

// hoseElbow returns the coefficient of a bend of hose: Crane TP-410, p. A-29, has the loss of a 90° bend as a length of
// the same pipe, 20 to 12 diameters by its radius; here with the friction of fully rough hose.
func hoseElbow(f shop.Fitting, r *shop.Run) float64 {
	radius := []float64{1, 1.5, 2, 3}
	diameters := []float64{20, 14, 12, 12}
	x := math.Max(1, math.Min(3, f.RadiusRatio))
	n := diameters[0]
	for i := 1; i < len(radius); i++ {
		if x > radius[i-1] {
			n = diameters[i-1] + (diameters[i]-diameters[i-1])*(math.Min(x, radius[i])-radius[i-1])/(radius[i]-radius[i-1])
		}
	}
	rough := math.Max(r.Roughness, 1e-5) / r.Diameter
	g := -2 * math.Log10(rough/3.7)
	return n / (g * g) * f.Angle / (math.Pi / 2)
}

// slack returns the factor on the length of a run that stands for hose that is not pulled out: as stated, or a quarter
// of the full friction more for each hundredth that it is short, which is ten times at 36 % (Weaver and Culp 2006, Texas
// A&M: over ten times in some at up to 45 %).
func slack(r *shop.Run) float64 {
	if r.Pulled > 0 {
		return 1 + 25*(1-r.Pulled)
	}
	return math.Max(1, r.Stretch)
}

// openGate returns the coefficient of an open gate. What stands in the way is a vena contracta after Weisbach (1855,
// from memory): with a share a of the area free,
//
//	K = (1/(a·Cc) − 1)²   Cc = 0.62 + 0.38·a³
func openGate(g *shop.Gate, diameter float64) float64 {
	if !math.IsNaN(g.Open) {
		return g.Open
	}
	switch {
	case g.Kind == shop.Butterfly:
		return 0.25 // common practice, no source
	case g.Kind == shop.Framed:
		x := math.Min(1, g.Bore/diameter)
		return 0.05 + contracted(x*x*uncovered(g.Opens))
	}
	return 0.05 + contracted(uncovered(g.Opens))
}

func contracted(a float64) float64 {
	x := 1/(a*(0.62+0.38*a*a*a)) - 1
	return x * x
}

// uncovered returns the share of a circle's area that a straight edge leaves free that has moved over a share of its
// diameter.
func uncovered(open float64) float64 {
	if !(open > 0) || open >= 1 {
		return 1
	}
	half := math.Acos(1 - 2*open)
	return (half - math.Sin(2*half)/2) / math.Pi
}

// hole returns what a plain hole passes at seamPressure, m³/s: 0.60·A·√(2Δp/ρ) (ACGIH Industrial Ventilation's 1.78
// velocity pressures of a sharp orifice).
func hole(diameter float64) float64 {
	return 0.60 * math.Pi / 4 * diameter * diameter * math.Sqrt(2*seamPressure/referenceDensity)
}

package plant

import (
	"math"

	"ductward/internal/shop"
)

// referenceDensity is the density at which measured losses are taken to be stated, kg/m³.
const referenceDensity = 1.2

// loss returns a fitting's coefficient on the velocity pressure in the run, and, for a measured loss, the factor c of
// Δp = c·Q² at the reference density, Pa/(m³/s)².
func loss(f shop.Fitting, r *shop.Run) (k, c float64) {
	diameter := r.Diameter
	switch f.Kind {
	case shop.Elbow:
		if f.Make == shop.HoseElbow {
			return hoseElbow(f, r), 0
		}
		return elbow(f), 0
	case shop.Entry:
		if f.Entry == shop.OrificeEntry {
			return orifice(f.Bore / diameter), 0
		}
		return entry(f), 0
	case shop.Contraction:
		return contraction(f.Angle, diameter/f.LargeDiameter), 0
	case shop.Expansion:
		return expansion(f.Angle, diameter/f.LargeDiameter), 0
	case shop.Screen:
		return screen(f.FreeArea), 0
	case shop.FixedLoss:
		return f.Coefficient, 0
	case shop.MeasuredLoss:
		return 0, f.MeasuredDrop / (f.MeasuredFlow * f.MeasuredFlow)
	}
	return 0, 0
}

// elbow returns the coefficient of a bend by Weisbach (Lehrbuch der Ingenieur- und Maschinenmechanik, 1855, from
// memory): a smooth bend of pipe radius r, bend radius R and angle θ has
//
//	K = (0.131 + 1.847·(r/R)^3.5)·θ/90°
//
// and a mitred elbow K = 0.946·sin²(θ/2) + 2.047·sin⁴(θ/2). A gored elbow is a smooth one with 40 % more for each
// of its seams' share: the factor 1 + 2/pieces is an invention of this plant.
func elbow(f shop.Fitting) float64 {
	if f.Make == shop.MitredElbow {
		s := math.Sin(f.Angle / 2)
		return s * s * (0.946 + 2.047*s*s)
	}
	ratio := f.RadiusRatio
	if !(ratio > 0) {
		ratio = 1.5
	}
	k := (0.131 + 1.847*math.Pow(0.5/ratio, 3.5)) * f.Angle / (math.Pi / 2)
	if f.Make == shop.GoredElbow && f.Pieces > 0 {
		k *= 1 + 2/float64(f.Pieces)
	}
	return k
}

// orifice returns the coefficient of a sharp-edged opening that is a share of the diameter wide: its vena contracta of 0.62
// of the opening widens at once to the duct (Borda and Carnot; Weisbach's 0.62, from memory).
func orifice(share float64) float64 {
	x := 1/(0.62*share*share) - 1
	return x * x
}

// entry returns the coefficient of a duct end or hood (common practice, no source); of a bell mouth whose rounding is
// stated by Rennels and Hudson, Pipe Flow (2012, from memory):
//
//	λ = 1 + 0.622·(1 − 0.3·√r − 0.7·r)⁴   K = 0.0696·(1 − 0.569·r)·λ² + (λ − 1)²
func entry(f shop.Fitting) float64 {
	if r := math.Min(f.RadiusRatio, 1); f.Entry == shop.BellmouthEntry && r > 0 {
		x := 1 - 0.3*math.Sqrt(r) - 0.7*r
		l := 1 + 0.622*x*x*x*x
		return 0.0696*(1-0.569*r)*l*l + (l-1)*(l-1)
	}
	switch f.Entry {
	case shop.PlainEntry:
		return 0.90
	case shop.FlangedEntry:
		return 0.50
	case shop.BellmouthEntry:
		return 0.05
	}
	return 0.90
}

// contraction returns the coefficient on the small end of a cone with full angle θ and diameter ratio β,
// 0.5·(1−β²)·√(sin θ/2) (Crane TP 410, A-26, from memory).
func contraction(angle, beta float64) float64 {
	return 0.5 * (1 - beta*beta) * math.Sqrt(math.Sin(coneHalf(angle)))
}

// expansion returns the coefficient on the small end, Borda and Carnot's (1−β²)² with 2.6·sin(θ/2) up to 45°
// (Crane TP 410, A-26, from memory).
func expansion(angle, beta float64) float64 {
	whole := (1 - beta*beta) * (1 - beta*beta)
	return whole * math.Min(1, 2.6*math.Sin(coneHalf(angle)))
}

// coneHalf returns half the cone's full angle; an angle that was not given is a sudden change.
func coneHalf(angle float64) float64 {
	if !(angle > 0) || angle > math.Pi {
		return math.Pi / 2
	}
	return angle / 2
}

// screen returns the coefficient of a screen with the given share of free area: 0.8·s/(1−s)² with s the solid share
// (Cornell, Trans. ASME 80 (1958) 791, from memory).
func screen(free float64) float64 {
	s := 1 - free
	return 0.8 * s / (free * free)
}

// branchEntry returns the coefficient of a branch that enters a main at the given angle, on the branch's own velocity
// pressure, by straight lines between the ACGIH Industrial Ventilation manual's values (from memory: 0.09 at 15°, 0.18
// at 30°, 0.28 at 45°, 0.44 at 60°, 1.0 at 90°).
func branchEntry(angle float64) float64 {
	degrees := []float64{0, 15, 30, 45, 60, 90}
	k := []float64{0.04, 0.09, 0.18, 0.28, 0.44, 1.0}
	d := angle * 180 / math.Pi
	for i := 1; i < len(k); i++ {
		if d <= degrees[i] {
			t := (d - degrees[i-1]) / (degrees[i] - degrees[i-1])
			return k[i-1] + t*(k[i]-k[i-1])
		}
	}
	return 1
}

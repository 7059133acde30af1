package detect

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// normal is the standard normal law.
var normal = distuv.UnitNormal

// ScanRate returns how often, per day, the largest standardised contrast of a white Gaussian record crosses b upwards,
// when every onset within the last window days is tried each day. The contrast of the last m days is their sum over √m,
// the level before them being known:
//
//	rate ≈ b·φ(b)·(½·∫ x·ν(x)² dx + ν(b·√(2/window))/window),  from b/√window to b,  ν(x) ≈ exp(-0.583·x)
//
// The integral is that of Siegmund and Venkatraman 1995 (Annals of Statistics 23, 255–271) for the likelihood-ratio scan
// of a normal mean, cut at the window (Lai 1995, Journal of the Royal Statistical Society B 57, 613–658); the other
// term is the window's edge, a moving sum of the whole window. Both from memory and derived again; this package's tests
// hold the rate against simulation: it is right to a tenth from b = 3 on and too low by a fifth at 2.5. One direction,
// one side. b in standard deviations, above 2.
func ScanRate(b float64, window int) float64 {
	w := float64(window)
	inside := (overshoot(b) - overshoot(b/math.Sqrt(w))) / 2
	edge := math.Exp(-overshootRate*b*math.Sqrt(2/w)) / w
	return b * normal.Prob(b) * (inside + edge)
}

// overshootRate is ρ = -ζ(1/2)/√(2π): ν(x) ≈ exp(-ρ·x) is by how much a random walk in steps crosses a level less often
// than a continuous one (Siegmund 1985, Sequential Analysis, ch. IV and X).
const overshootRate = 0.583

// overshoot is the integral of t·exp(-2·ρ·t) from 0 to x.
func overshoot(x float64) float64 {
	const a = 2 * overshootRate
	return (1 - math.Exp(-a*x)*(1+a*x)) / (a * a)
}

// Threshold returns the number of standard deviations that the largest of the contrasts of several directions crosses
// at the given rate per day: each direction is given its equal share (Bonferroni), so that the promise is kept whatever
// their correlation.
func Threshold(ratePerDay float64, window, directions int) float64 {
	share := ratePerDay / float64(max(directions, 1))
	lo, hi := 2.0, 12.0
	for range 60 {
		mid := (lo + hi) / 2
		if ScanRate(mid, window) > share {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// Quantile returns the two-sided normal quantile for a confidence: 1.645 for 0.9.
func Quantile(confidence float64) float64 { return normal.Quantile((1 + confidence) / 2) }

// Below returns the probability that a normal value with the given mean and standard error lies below a limit.
func Below(limit, mean, se float64) float64 {
	if se <= 0 {
		if mean < limit {
			return 1
		}
		return 0
	}
	return normal.CDF((limit - mean) / se)
}

package detect

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// normal is the standard normal law.
var normal = distuv.UnitNormal

// ScanRate returns how often, per day, the largest standardised contrast of a white Gaussian record crosses b upwards,
// when every onset within the last window days is tried each day:
//
//	rate ≈ b·φ(b) ∫ x·ν(x)² dx,  from b·√(2/window) to b·√2,  ν(x) ≈ exp(-0.583·x)
//
// (Siegmund and Venkatraman 1995, Annals of Statistics 23, 255–271, for the likelihood-ratio scan of a normal mean;
// form from memory, held against simulation by this package's tests.) One direction, one side. b in standard
// deviations, above 2.
func ScanRate(b float64, window int) float64 {
	lo, hi := b*math.Sqrt(2/float64(window)), b*math.Sqrt2
	return b * normal.Prob(b) * (overshoot(hi) - overshoot(lo))
}

// overshoot is the integral of x·exp(-2·0.583·x) from 0 to x.
func overshoot(x float64) float64 {
	const a = 2 * 0.583
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

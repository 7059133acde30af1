package detect

import "math"

// Level is the local level model: a level that walks at random, seen through noise (Kalman 1960; Durbin and Koopman,
// Time Series Analysis by State Space Methods, ch. 2). The zero value knows nothing.
type Level struct {
	Mean     float64
	Variance float64
	Known    bool
}

// Step takes one observation with its variance, after the level has walked with variance walk since the last. A
// missing observation is NaN. The gain is the weight that it got.
func (l *Level) Step(y, variance, walk float64) (gain float64) {
	if l.Known {
		l.Variance += walk
	}
	if math.IsNaN(y) || math.IsNaN(variance) || variance <= 0 {
		return 0
	}
	if !l.Known {
		*l = Level{Mean: y, Variance: variance, Known: true}
		return 1
	}
	gain = l.Variance / (l.Variance + variance)
	l.Mean += gain * (y - l.Mean)
	l.Variance *= 1 - gain
	return gain
}

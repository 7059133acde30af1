package estimate

import "math"

// nuisance columns of a day: filter by part, slope, density, speed, day error by channel, how otherwise the latest change
// may show, how the hood stands at each use of a machine.
type nuisances struct{ parts, channels, traces, uses int }

func (n nuisances) use(u int) int { return n.trace(n.traces) + u }

func (n nuisances) trace(m int) int { return n.parts + 3 + n.channels + m }

func (n nuisances) slope() int { return n.parts }

func (n nuisances) density() int { return n.parts + 1 }

func (n nuisances) speed() int { return n.parts + 2 }

// The standard deviation of a day's log resistance about what is expected: where its drop is read, that only steadies the
// fit; where it is not, the filter may have been cleaned without anybody seeing it.
const (
	filterSpread = 0.5
	filterUnseen = 2.0
)

// slopePrior is the standard deviation of the slope of the filter's log resistance within a day, per hour of fan: a filter
// that doubles in a hundred hours.
const slopePrior = 0.01

// The correlation of a day's errors with those of the day before, of the weather's, and of the season's in a room without a
// thermometer: weeks in which no mean makes it better known.
const (
	errorCorrelation   = 0.5
	weatherCorrelation = 0.75
	seasonCorrelation  = 0.97
)

// spanFactor is what errors that are correlated by ρ from one day to the next do to the mean of n days, over what
// independent ones would: its variance is as much times the variance of one day over n (Box, Jenkins and Reinsel, Time
// Series Analysis, ch. 2, from memory); for n = 0, of very many days.
//
//	(n + 2·Σ (n-k)·ρ^k) / n, k from 1 to n-1;  (1+ρ)/(1-ρ) for many
func spanFactor(n int, rho float64) float64 {
	if n == 0 {
		return (1 + rho) / (1 - rho)
	}
	sum, power := float64(n), 1.0
	for k := 1; k < n; k++ {
		power *= rho
		sum += 2 * float64(n-k) * power
	}
	return sum / float64(n)
}

// nuisancePriors returns the prior standard deviations of a day's nuisances, where the day is one of the last n that are
// compared with all before; n = 0: of many days.
func (s *system) nuisancePriors(n int) []float64 {
	day := math.Sqrt(spanFactor(n, errorCorrelation))
	sd := make([]float64, s.n.size())
	for p := range s.n.parts {
		sd[p] = filterSpread
		if !s.seesFilter {
			sd[p] = filterUnseen
		}
	}
	sd[s.n.slope()] = slopePrior
	sd[s.n.density()] = s.air.densityError(n)
	sd[s.n.speed()] = 0.001 * day
	for c := range s.n.channels {
		sd[s.n.day(c)] = math.Hypot(s.e.cols.meters[c].daily(n), s.strayed[c]*day)
	}
	for m := range s.n.traces {
		sd[s.n.trace(m)] = math.Sqrt(s.trace.days)
	}
	for u, m := range s.uses {
		sd[s.n.use(u)] = s.e.hoods.sd(m)
	}
	return sd
}

package estimate

import "math"

// nuisance columns of a day: filter by part, slope, density, speed, day error by channel, how otherwise the latest change
// may show.
type nuisances struct{ parts, channels, traces int }

func (n nuisances) trace(m int) int { return n.parts + 3 + n.channels + m }

func (n nuisances) slope() int { return n.parts }

func (n nuisances) density() int { return n.parts + 1 }

func (n nuisances) speed() int { return n.parts + 2 }

// slopePrior is the standard deviation of the slope of the filter's log resistance within a day, per hour of fan: a filter
// that doubles in a hundred hours.
const slopePrior = 0.01

// nuisancePriors returns the prior standard deviations of a day's nuisances.
func (s *system) nuisancePriors() []float64 {
	sd := make([]float64, s.n.size())
	for p := range s.n.parts {
		sd[p] = 0.5
	}
	sd[s.n.slope()] = slopePrior
	sd[s.n.density()] = s.e.densityError()
	sd[s.n.speed()] = 0.001 * dayCorrelation
	for c := range s.n.channels {
		sd[s.n.day(c)] = dayErrorLong
	}
	for m := range s.n.traces {
		sd[s.n.trace(m)] = math.Sqrt(s.trace.days)
	}
	return sd
}

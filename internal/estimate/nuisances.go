package estimate

// nuisance columns of a day: filter by part, slope, density, speed, day error by channel.
type nuisances struct{ parts, channels int }

func (n nuisances) slope() int { return n.parts }

func (n nuisances) density() int { return n.parts + 1 }

func (n nuisances) speed() int { return n.parts + 2 }

// nuisancePriors returns the prior standard deviations of a day's nuisances.
func (s *system) nuisancePriors() []float64 {
	sd := make([]float64, s.n.size())
	for p := range s.n.parts {
		sd[p] = 0.5
	}
	sd[s.n.slope()] = 0.01 // per hour: a filter that doubles in a hundred hours
	sd[s.n.density()] = s.e.densityError()
	sd[s.n.speed()] = 0.001 * dayCorrelation
	for c := range s.n.channels {
		sd[s.n.day(c)] = dayErrorLong
	}
	return sd
}

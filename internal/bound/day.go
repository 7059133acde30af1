package bound

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// dayInformation is what one day says of the readings in its sets and of the nuisances that go on to other days: the
// unknowns are the sets' channels, then those of the chain.
type dayInformation struct {
	sets []int // in rising order
	info *mat.SymDense
}

// The chain's unknowns of a day: the filter's log resistance, density, speed, then each channel's error of the day.
const (
	chainFilter = iota
	chainDensity
	chainSpeed
	chainErrors
)

// chainSize is the number of the chain's unknowns of a day.
func (r *Response) chainSize() int { return chainErrors + len(r.Channels) }

// dayOf works out what a day says. The filter's slope, the sensors' zeros, the hoods of each use and the speed in each run
// are the day's own.
func (r *Response) dayOf(day Day) (*dayInformation, error) {
	day = slices.Clone(day)
	slices.SortStableFunc(day, func(a, b Run) int { return cmp.Compare(a.At, b.At) })
	d := &dayInformation{}
	var hours, time float64
	uses := 0
	for _, run := range day {
		if !slices.Contains(d.sets, run.Set) {
			d.sets = append(d.sets, run.Set)
		}
		for _, u := range run.Uses {
			uses = max(uses, u+1)
		}
		hours, time = hours+run.At*run.Seconds, time+run.Seconds
	}
	slices.Sort(d.sets)
	n := len(r.Channels)
	l := layout{chain: len(d.sets) * n}
	l.slope = l.chain + r.chainSize()
	l.zeros = l.slope + 1
	l.uses = l.zeros + n
	l.speeds = l.uses + uses
	all := mat.NewSymDense(l.speeds+len(day), nil)
	for k, run := range day {
		at, _ := slices.BinarySearch(d.sets, run.Set)
		if err := r.addRun(all, run, l, at*n, l.speeds+k, run.At-hours/time); err != nil {
			return nil, err
		}
	}
	all.SetSym(l.slope, l.slope, all.At(l.slope, l.slope)+1/sq(r.Noise.Slope))
	for i := l.zeros; i < l.uses; i++ {
		all.SetSym(i, i, all.At(i, i)+1) // zeros in units of their standard deviation
	}
	for i := l.uses; i < l.speeds; i++ {
		all.SetSym(i, i, all.At(i, i)+1/sq(max(r.Noise.Hood, leastSpread)))
	}
	r.addSpeeds(all, day, l.speeds)
	var err error
	d.info, err = eliminate(all, l.slope)
	return d, err
}

// layout is where the unknowns of a day begin, behind its sets' channels.
type layout struct{ chain, slope, zeros, uses, speeds int }

// addSpeeds adds what is known beforehand of the speeds of a day's runs, which are in their order: a series whose memory
// fades with the time constant τ, of which a run of length T has the mean, with the variance
//
//	σ²·2·(τ/T)·(1 − (τ/T)·(1 − exp(−T/τ)))
func (r *Response) addSpeeds(all *mat.SymDense, day Day, first int) {
	tau := r.Noise.SpeedTime
	last := 0.0 // correlation with the run before
	for k, run := range day {
		sd, next, nextSD := r.speedOf(run), 0.0, 1.0
		if k+1 < len(day) {
			nextSD = r.speedOf(day[k+1])
			if tau > 0 {
				next = math.Exp(-(day[k+1].At - run.At) * 3600 / tau)
				next = min(next, 0.999) // runs at one moment
			}
			all.SetSym(first+k, first+k+1, -next/(1-next*next)/(sd*nextSD))
		}
		x := 1/(1-last*last) + next*next/(1-next*next)
		all.SetSym(first+k, first+k, all.At(first+k, first+k)+x/(sd*sd))
		last = next
	}
}

// speedOf is the standard deviation of the mean speed of a run.
func (r *Response) speedOf(run Run) float64 {
	share := 1.0
	if x := r.Noise.SpeedTime / run.Seconds; x > 0 {
		share = 2 * x * (1 - x*(1-math.Exp(-1/x)))
	}
	return max(r.Noise.SpeedRun*math.Sqrt(share), leastSpread)
}

// addRun adds one run, whose set's channels begin at first and whose speed is at speed.
func (r *Response) addRun(all *mat.SymDense, run Run, l layout, first, speed int, hours float64) error {
	s := &r.Sets[run.Set]
	fitted := r.fitted()
	weight, err := r.weight(s, run, fitted)
	if err != nil {
		return err
	}
	type entry struct {
		at int
		x  float64
	}
	rows := make([][]entry, len(fitted))
	for i, c := range fitted {
		rows[i] = []entry{{first + c, 1}, {l.chain + chainFilter, s.Filter[c]}, {l.chain + chainDensity, s.Density[c]},
			{l.chain + chainSpeed, s.Speed[c]}, {l.chain + chainErrors + c, 1}, {l.slope, s.Filter[c] * hours}, {l.zeros + c, s.Zero[c]},
			{speed, s.Speed[c]}}
		for k, u := range run.Uses {
			rows[i] = append(rows[i], entry{l.uses + u, s.By[c][s.Hoods[k]]})
		}
	}
	for i := range rows {
		for j := range rows {
			w := weight.At(i, j)
			for _, a := range rows[i] {
				for _, b := range rows[j] {
					if a.at <= b.at {
						all.SetSym(a.at, b.at, all.At(a.at, b.at)+w*a.x*b.x)
					}
				}
			}
		}
	}
	return nil
}

// fitted lists the channels that somebody reads.
func (r *Response) fitted() []int {
	var out []int
	for c, ch := range r.Channels {
		if !ch.Virtual {
			out = append(out, c)
		}
	}
	return out
}

// weight returns the inverse of the covariance of a run's log readings about those of its day: turbulence, which each
// channel has for itself, and the hoods where their use is this run alone.
func (r *Response) weight(s *Set, run Run, fitted []int) (*mat.SymDense, error) {
	cov := mat.NewSymDense(len(fitted), nil)
	for i, c := range fitted {
		cov.SetSym(i, i, sq(s.Scatter[c])*r.Noise.effective(run.Seconds)+sq(r.Noise.Floor))
		if run.Uses != nil {
			continue
		}
		for j := i; j < len(fitted); j++ {
			e, x := fitted[j], cov.At(i, j)
			for _, h := range s.Hoods {
				x += sq(r.Noise.Hood) * s.By[c][h] * s.By[e][h]
			}
			cov.SetSym(i, j, x)
		}
	}
	var chol mat.Cholesky
	out := mat.NewSymDense(len(fitted), nil)
	if !chol.Factorize(cov) || isInfinite(chol.InverseTo(out)) {
		return nil, errInfinite
	}
	return out, nil
}

package bound

import (
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

// dayOf works out what a day says. The filter's slope and the sensors' zeros are the day's own.
func (r *Response) dayOf(day Day) (*dayInformation, error) {
	d := &dayInformation{}
	var hours, time float64
	for _, run := range day {
		if !slices.Contains(d.sets, run.Set) {
			d.sets = append(d.sets, run.Set)
		}
		hours, time = hours+run.At*run.Seconds, time+run.Seconds
	}
	slices.Sort(d.sets)
	n, k := len(r.Channels), r.chainSize()
	kept := len(d.sets)*n + k
	all := mat.NewSymDense(kept+1+n, nil)
	for _, run := range day {
		at, _ := slices.BinarySearch(d.sets, run.Set)
		if err := r.addRun(all, run, at*n, len(d.sets)*n, run.At-hours/time); err != nil {
			return nil, err
		}
	}
	all.SetSym(kept, kept, all.At(kept, kept)+1/sq(r.Noise.Slope))
	for c := range n {
		i := kept + 1 + c
		all.SetSym(i, i, all.At(i, i)+1) // zeros in units of their standard deviation
	}
	var err error
	d.info, err = eliminate(all, kept)
	return d, err
}

// addRun adds one run, whose set's channels begin at first and whose chain at chain.
func (r *Response) addRun(all *mat.SymDense, run Run, first, chain int, hours float64) error {
	s := &r.Sets[run.Set]
	fitted := r.fitted()
	weight, err := r.weight(s, run, fitted)
	if err != nil {
		return err
	}
	slope := chain + r.chainSize()
	type entry struct {
		at int
		x  float64
	}
	rows := make([][]entry, len(fitted))
	for i, c := range fitted {
		rows[i] = []entry{{first + c, 1}, {chain + chainFilter, s.Filter[c]}, {chain + chainDensity, s.Density[c]},
			{chain + chainSpeed, s.Speed[c]}, {chain + chainErrors + c, 1}, {slope, s.Filter[c] * hours}, {slope + 1 + c, s.Zero[c]}}
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
// channel has for itself, and the speed and the hoods, which they share.
func (r *Response) weight(s *Set, run Run, fitted []int) (*mat.SymDense, error) {
	cov := mat.NewSymDense(len(fitted), nil)
	for i, c := range fitted {
		cov.SetSym(i, i, sq(s.Scatter[c])*r.Noise.effective(run.Seconds)+sq(r.Noise.Floor))
		for j := i; j < len(fitted); j++ {
			e := fitted[j]
			x := cov.At(i, j) + sq(r.Noise.SpeedRun)*s.Speed[c]*s.Speed[e]
			for k, h := range s.Hoods {
				hood := sq(r.Noise.Hood)
				if k < len(run.Shares) {
					hood /= run.Shares[k] // the runs of one use have one hood, whose error none of them makes smaller
				}
				x += hood * s.By[c][h] * s.By[e][h]
			}
			cov.SetSym(i, j, x)
		}
	}
	var chol mat.Cholesky
	out := mat.NewSymDense(len(fitted), nil)
	if !chol.Factorize(cov) || chol.InverseTo(out) != nil {
		return nil, errInfinite
	}
	return out, nil
}

package bound

import (
	"errors"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/shop"
)

// Record is what a row of working days says, before it is asked whether anything has changed: the information on the
// biases of each set and channel and on what goes on from day to day.
type Record struct {
	r     *Response
	days  []*dayInformation
	total *mat.SymDense
	chol  mat.Cholesky
}

// filterOpen is the standard deviation of a day's log resistance beforehand: as good as unknown.
const filterOpen = 2.0

// leastSpread stands for a standard deviation that is given as 0.
const leastSpread = 1e-7

// NewRecord works a record out. Days that are one and the same slice are worked out once.
func NewRecord(r *Response, days []Day) (*Record, error) {
	if len(days) == 0 || len(r.fitted()) == 0 {
		return nil, errors.New("a record needs at least one day and one channel")
	}
	rec := &Record{r: r}
	known := map[*Run]*dayInformation{}
	for _, day := range days {
		var first *Run
		if len(day) > 0 {
			first = &day[0]
		}
		d := known[first]
		if d == nil || len(day) == 0 {
			var err error
			if d, err = r.dayOf(day); err != nil {
				return nil, err
			}
			known[first] = d
		}
		rec.days = append(rec.days, d)
	}
	return rec, rec.assemble()
}

// biases is the number of biases; the chains of the days follow them.
func (rec *Record) biases() int { return len(rec.r.Sets) * len(rec.r.Channels) }

// chain is where the chain of a day begins.
func (rec *Record) chain(day int) int { return rec.biases() + day*rec.r.chainSize() }

// assemble adds up what is known beforehand and what the days say.
func (rec *Record) assemble() error {
	rec.total = mat.NewSymDense(rec.chain(len(rec.days)), nil)
	if err := rec.addBiases(); err != nil {
		return err
	}
	rec.addChains()
	for d, day := range rec.days {
		at := rec.places(day, rec.chain(d))
		for i, p := range at {
			for j := i; j < len(at); j++ {
				rec.total.SetSym(p, at[j], rec.total.At(p, at[j])+day.info.At(i, j))
			}
		}
	}
	if !rec.chol.Factorize(rec.total) {
		return errInfinite
	}
	return nil
}

// places tells which of the record's unknowns those of a day are.
func (rec *Record) places(day *dayInformation, chain int) []int {
	var at []int
	for _, s := range day.sets {
		for c := range rec.r.Channels {
			at = append(at, s*len(rec.r.Channels)+c)
		}
	}
	for k := range rec.r.chainSize() {
		at = append(at, chain+k)
	}
	return at
}

// addBiases adds what the drawing knows of the biases.
func (rec *Record) addBiases() error {
	r, n := rec.r, rec.biases()
	channels := len(r.Channels)
	cov := mat.NewSymDense(n, nil)
	common := [3]float64{r.Noise.Loss, r.Noise.Leakage, r.Noise.FanCurve}
	for i := range n {
		a, c := &r.Sets[i/channels], i%channels
		for j := i; j < n; j++ {
			b, e := &r.Sets[j/channels], j%channels
			x := 0.0
			for k, sd := range common {
				x += sq(sd) * a.Common[c][k] * b.Common[e][k]
			}
			for m := range a.Built {
				x += a.Built[m][c] * b.Built[m][e]
			}
			if c == e && !r.Channels[c].Virtual {
				x += sq(r.Noise.Gain)
			}
			if i == j {
				x += sq(max(r.Noise.SetBias, leastSpread))
			}
			cov.SetSym(i, j, x)
		}
	}
	var chol mat.Cholesky
	inverse := mat.NewSymDense(n, nil)
	if !chol.Factorize(cov) || isInfinite(chol.InverseTo(inverse)) {
		return errInfinite
	}
	for i := range n {
		for j := i; j < n; j++ {
			rec.total.SetSym(i, j, inverse.At(i, j))
		}
	}
	return nil
}

// isInfinite tells an exactly singular system from one that is only badly conditioned.
func isInfinite(err error) bool {
	var c mat.Condition
	return err != nil && (!errors.As(err, &c) || float64(c) > 1e300)
}

// addChains adds what is known beforehand of what goes on from day to day.
func (rec *Record) addChains() {
	r := rec.r
	density, weather := r.Noise.density(r.Measured)
	days := len(rec.days)
	for d := range days {
		i := rec.chain(d) + chainFilter
		rec.total.SetSym(i, i, 1/sq(filterOpen))
	}
	rec.addChain(chainDensity, density, weather)
	rec.addChain(chainSpeed, r.Noise.SpeedDay, 0)
	for c, ch := range r.Channels {
		sd := r.Noise.Day
		switch ch.Measures {
		case shop.FanSpeed:
			sd = r.Noise.Turns
		case shop.FanPower:
			sd = r.Noise.PowerDay
		}
		rec.addChain(chainErrors+c, sd, r.Noise.DayCorrelation)
	}
}

// addChain adds the inverse covariance of a series of errors that are correlated by ρ from one day to the next:
//
//	1/(σ²·(1−ρ²)) times a band matrix with 1, 1+ρ², …, 1+ρ², 1 on the diagonal and −ρ beside it
func (rec *Record) addChain(which int, sd, rho float64) {
	k := 1 / (sq(max(sd, leastSpread)) * (1 - rho*rho))
	last := len(rec.days) - 1
	for d := range rec.days {
		i := rec.chain(d) + which
		x := 1 + rho*rho
		if d == 0 || d == last {
			x = 1
		}
		if last == 0 {
			x = 1 - rho*rho
		}
		rec.total.SetSym(i, i, rec.total.At(i, i)+k*x)
		if d < last {
			rec.total.SetSym(i, rec.chain(d+1)+which, -k*rho)
		}
	}
}

// Reduce returns the information on a change of each set's channels that takes a course over the days, everything else
// free: Λ = Σ u²·A − Uᵀ·T⁻¹·U.
func (rec *Record) Reduce(course []float64) (*mat.SymDense, error) {
	n, channels := rec.biases(), len(rec.r.Channels)
	out := mat.NewSymDense(n, nil)
	u := mat.NewDense(rec.total.SymmetricDim(), n, nil)
	for d, day := range rec.days {
		w := course[d]
		if w == 0 {
			continue
		}
		at := rec.places(day, rec.chain(d))
		mine := len(day.sets) * channels
		for j, q := range at[:mine] {
			for i, p := range at {
				u.Set(p, q, u.At(p, q)+w*day.info.At(i, j))
				if i <= j {
					out.SetSym(p, q, out.At(p, q)+w*w*day.info.At(i, j))
				}
			}
		}
	}
	return out, takeOff(out, &rec.chol, u)
}

// variance returns that of a combination of the record's unknowns.
func (rec *Record) variance(of map[int]float64) (float64, error) {
	x := mat.NewVecDense(rec.total.SymmetricDim(), nil)
	for i, v := range of {
		x.SetVec(i, v)
	}
	var y mat.VecDense
	if err := rec.chol.SolveVecTo(&y, x); isInfinite(err) {
		return 0, errInfinite
	}
	return mat.Dot(x, &y), nil
}

package estimate

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// No system is built as drawn: the loss of each drop and of each run of the trunk differs, and so does what its wyes do. The
// baseline learns what its pressures show of that and fits the model to it. What they leave open is spread over a few other
// ducts, any of which the system may be. How the parts of a duct share a change among the taps is the same error every day:
// however long the record, a place is known no better than the duct is.
const (
	builtOtherwise = 0.10 // of a drop's or trunk run's loss against the drawing, as a log (common practice, no source)
	otherDucts     = 10
	signatureSeed  = 0x6475637477617264
)

// built is how a system is built otherwise than it is drawn, by name. The zero value is as drawn.
type built struct {
	drops  map[string]float64 // by machine: factor on the loss of its drop
	trunk  map[string]float64 // by run: factor on its loss
	mixing map[string]float64 // by junction
	stands map[string]float64 // by leg of a wye behind which a tap lies
	little map[string]float64 // by leg of a wye; nil where nothing is known
	sum    uint64             // tells it apart
}

// tuning is what a baseline has made of the model.
type tuning struct {
	factors [3]float64 // logs, see calibration
	built   built
	others  []built // that the system may be too, as far as the baseline can tell
}

// unbuilt returns how many numbers say how the system is built: a drop's log loss a machine, a log loss a run of the trunk, and
// of the laws a mixing a wye and what stands in a leg.
func (v *viewer) unbuilt() int { return len(v.cols.machines) + len(v.cols.trunk) + len(v.laws) }

// builtAs gives the numbers their names.
func (v *viewer) builtAs(x []float64) built {
	b := built{drops: map[string]float64{}, trunk: map[string]float64{}, mixing: map[string]float64{}, stands: map[string]float64{},
		sum: digestOf(x)}
	for _, name := range v.cols.machines {
		b.drops[name], x = math.Exp(x[0]), x[1:]
	}
	for _, name := range v.cols.trunk {
		b.trunk[name], x = math.Exp(x[0]), x[1:]
	}
	for i, law := range v.laws {
		if law.Kind == duct.Mixed {
			b.mixing[law.Part] = x[i]
		} else {
			b.stands[law.Part] = x[i]
		}
	}
	return b
}

// lawsOf lists what of a model's wyes is learnt: their mixing, and what stands in each leg behind which a duct's pressure is read.
func lawsOf(c *shop.Collector, m *duct.Model) []duct.Param {
	var out []duct.Param
	for _, name := range m.Wyes() {
		out = append(out, duct.Param{Kind: duct.Mixed, Part: name})
	}
	behind := map[string]bool{}
	for _, sensor := range c.Sensors {
		for _, run := range wayFrom(c, sensor.Run) {
			behind[run.Name] = true
		}
	}
	for _, leg := range m.Legs() {
		if behind[leg] {
			out = append(out, duct.Param{Kind: duct.Stands, Part: leg})
		}
	}
	return out
}

// tuned returns the tuning by what the baseline makes of the numbers, with their covariance. The other ducts are drawn from a
// seed that is always the same.
func (v *viewer) tuned(factors [3]float64, x []float64, cov *mat.SymDense) tuning {
	t := tuning{factors: factors, built: v.builtAs(x)}
	var chol mat.Cholesky
	if len(x) == 0 || !chol.Factorize(cov) {
		return t
	}
	var low mat.TriDense
	chol.LTo(&low)
	for m := range otherDucts {
		r := rand.New(rand.NewPCG(signatureSeed, uint64(m)))
		z := mat.NewVecDense(len(x), nil)
		for i := range x {
			z.SetVec(i, r.NormFloat64())
		}
		var other mat.VecDense
		other.MulVec(&low, z)
		other.AddVec(&other, mat.NewVecDense(len(x), x))
		t.others = append(t.others, v.builtAs(other.RawVector().Data))
	}
	v.drawLittle(t.others)
	return t
}

// leftOpenOf returns, by channel, the relative variance of what a gate set reads in the other ducts, about what it reads in
// this one; nil where one of them has no solution.
func (v *viewer) leftOpenOf(g *gateSet, cal *calibration) []float64 {
	s := &state{logFilter: cal.logFilter, globals: cal.globals}
	read := func() []float64 {
		res, err := v.model.Solve(v.ductState(g, s, air.Reference()))
		if err != nil {
			return nil
		}
		out := make([]float64, len(v.cols.sensor))
		for c, si := range v.cols.sensor {
			out[c] = res.Sensors[si].Value
		}
		return out
	}
	own := read()
	if own == nil {
		return nil
	}
	out := make([]float64, len(own))
	for _, s.globals.built = range cal.globals.others {
		other := read()
		if other == nil {
			return nil
		}
		for c := range out {
			if own[c] != 0 {
				d := other[c]/own[c] - 1
				out[c] += d * d / float64(len(cal.globals.others))
			}
		}
	}
	return out
}

// derivative returns, by channel, the relative derivative of the readings by a column, at a state in a duct.
func (v *viewer) derivative(g *gateSet, s *state, a air.State, col int) ([]float64, error) {
	res, err := v.model.Solve(v.ductState(g, s, a))
	if err != nil {
		return nil, err
	}
	ps := v.cols.columnParams(col)
	sens, err := v.model.Sensitivity(res, ps)
	if err != nil {
		return nil, err
	}
	var out []float64
	for _, si := range v.cols.sensor {
		sum := 0.0
		for j := range ps {
			sum += sens[si][j]
		}
		p := res.Sensors[si].Value
		if p == 0 {
			p = 1e-3
		}
		out = append(out, sum/float64(len(ps))/p)
	}
	return out, nil
}

package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"ductward/internal/air"
	"ductward/internal/duct"
)

// What a change does to each reading is taken from the drawing, and no system is built as drawn. The baseline takes the
// constant part of that away, but not how the parts of the duct share a change among the taps. That error is the same
// every day: however long the record, a place is known no better than the drawing is. It is drawn from a few ducts that
// are built otherwise in every run, the same ones always.
const (
	builtOtherwise = 0.10 // of each run's loss against the drawing, as a log (common practice, no source)
	mixedOtherwise = 0.20 // of each wye's law (see duct.State.Mixing): how far two laws in use lie from each other
	otherDucts     = 10
	lawError       = 0.06 // of a change's trace in one gate set and sensor: what no other duct shows, as the law of a wye
	signatureSeed  = 0x6475637477617264
	spreadGrid     = 0.25 // of the log resistance: how far ducts differ changes little with the filter
)

// built is how a duct is built otherwise, by name.
type built struct {
	runs   map[string]float64 // factors on the losses
	mixing map[string]float64
}

// otherwise returns duct number m. What a run costs scales all that changes in it. How the streams of a wye mix a leak
// changes where it comes in behind the idle leg, and a tap out there sees it through little else.
func (v *viewer) otherwise(m int) built {
	r := rand.New(rand.NewPCG(signatureSeed, uint64(m)))
	as := built{map[string]float64{}, map[string]float64{}}
	for _, name := range v.runs {
		as.runs[name] = math.Exp(builtOtherwise * r.NormFloat64())
	}
	for _, name := range v.model.Wyes() {
		as.mixing[name] = mixedOtherwise * r.NormFloat64()
	}
	return as
}

// columnParams returns the model's parameters whose mean a column is; nil for one that no drawing enters.
func (k *columns) columnParams(col int) []duct.Param {
	if k.isRepeat(col) {
		return append(k.columnParams(k.straddle[0]), k.columnParams(k.straddle[1])...)
	}
	switch k.kind(col) {
	case leakChange:
		return []duct.Param{{Kind: duct.LeakAt, Part: k.zones[col], Exponent: leakExponent}}
	case blockChange:
		return []duct.Param{{Kind: duct.LogBlock, Part: k.machines[col-k.block0]}}
	case chokeChange:
		return []duct.Param{{Kind: duct.LogChoke, Part: k.trunk[col-k.choke0]}}
	}
	return nil
}

// spread returns, by channel, how otherwise the relative derivative by a column is in each of the other ducts, over the
// root of their number. It is taken before anything has changed, which makes little difference to how far ducts differ, and
// is kept.
func (v *viewer) spread(g *gateSet, at *state, col int) ([][]float64, error) {
	s := &state{logFilter: spreadGrid * math.Round(at.logFilter/spreadGrid), globals: at.globals}
	key := fmt.Sprintf("%s;%.2f;%d", g.key, s.logFilter, col)
	if w, ok := v.spreads[key]; ok {
		return w, nil
	}
	a := air.Reference()
	own, err := v.derivative(g, s, a, col, built{})
	if err != nil {
		return nil, err
	}
	out := make([][]float64, len(own))
	for m := range otherDucts {
		d, err := v.derivative(g, s, a, col, v.otherwise(m))
		if err != nil {
			return nil, err
		}
		for c := range out {
			out[c] = append(out[c], (d[c]-own[c])/math.Sqrt(otherDucts))
		}
	}
	if len(v.spreads) >= cacheLimit {
		clear(v.spreads)
	}
	v.spreads[key] = out
	return out, nil
}

// derivative returns, by channel, the relative derivative by a column in a duct that is built otherwise.
func (v *viewer) derivative(g *gateSet, s *state, a air.State, col int, as built) ([]float64, error) {
	st := v.ductState(g, s, a)
	st.Mixing = as.mixing
	for name, f := range as.runs {
		if have := st.Choked[name]; have > 0 {
			f *= have
		}
		st.Choked[name] = f
	}
	res, err := v.model.Solve(st)
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

// trace is the latest change as a day sees it: its column, its size on that day, and over how many days the error of what
// it does to the readings is spread.
type trace struct {
	col  int
	size float64
	days float64
}

// traceOn returns the trace of the latest change on a day; none where nothing has changed by then, or the change is not
// one that the drawing gives a place.
func (e *Estimator) traceOn(day int) (trace, bool) {
	if len(e.changes) == 0 {
		return trace{}, false
	}
	c := e.changes[len(e.changes)-1]
	size := c.value(day)
	if size == 0 || e.cols.columnParams(c.col) == nil {
		return trace{}, false
	}
	return trace{col: c.col, size: size, days: e.spreadOver(c)}, true
}

// spreadOver is over how many days the lasting error of a change's trace is spread: each of n days is given n times its
// variance, so that together they know no more than its inverse. The number goes up in powers of two, when the days are
// fitted again.
func (e *Estimator) spreadOver(c *change) float64 {
	n, p := len(e.summary)-c.onset, 1
	for p < n {
		p *= 2
	}
	return float64(p)
}

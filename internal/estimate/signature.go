package estimate

import (
	"fmt"
	"math"

	"ductward/internal/air"
	"ductward/internal/duct"
)

const (
	lawError   = 0.02 // of a change's trace in one gate set and sensor: what no other duct shows, as the law of a wye
	lawShare   = 4.0  // and of how far gate sets lie from the fitted model at that sensor, which shows how wrong its laws are
	spreadGrid = 0.25 // of the log resistance: how far ducts differ changes little with the filter
)

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
	own, err := v.derivative(g, s, a, col)
	if err != nil {
		return nil, err
	}
	out := make([][]float64, len(own))
	for _, other := range at.globals.others {
		s.globals.built = other
		d, err := v.derivative(g, s, a, col)
		if err != nil {
			return nil, err
		}
		for c := range out {
			out[c] = append(out[c], (d[c]-own[c])/math.Sqrt(otherDucts))
		}
	}
	v.keepSpread(key, out)
	return out, nil
}

func (v *viewer) keepSpread(key string, x [][]float64) {
	if len(v.spreads) >= cacheLimit {
		clear(v.spreads)
	}
	v.spreads[key] = x
}

// trace is the latest change as a day sees it: its column, its size on that day, and over how many days the error of what
// it does to the readings is spread.
type trace struct {
	col  int
	size float64
	days float64

	rivals []rival
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
	return trace{col: c.col, size: size, days: e.spreadOver(c), rivals: e.viewer.rivalsOf(c.col)}, true
}

// mostSpread is how many days at most have the lasting error of a trace each for itself. Were it one number, n days would each have to
// be given n times its variance, so that together they know no more than its inverse. It is many: each day sees it in few gate
// sets, not the same ones as another, and most of what it can be is in no more days than this (DEVELOPERS.md).
const mostSpread = 4

// spreadOver is over how many days the lasting error of a change's trace is spread: up to mostSpread days are each given as many times
// its variance. The number goes up in powers of two, when the days are fitted again.
func (e *Estimator) spreadOver(c *change) float64 {
	n, p := len(e.summary)-c.onset, 1
	for p < n && p < mostSpread {
		p *= 2
	}
	return float64(p)
}

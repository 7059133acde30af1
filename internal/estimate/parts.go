package estimate

import (
	"math"

	"ductward/internal/steady"
)

// splitAtCleanings divides a day where the resistance falls between two runs: somebody cleaned the filter.
func (e *Estimator) splitAtCleanings(d *dayData) {
	d.parts = 1
	for i := range d.obs {
		d.obs[i].part = 0
	}
	rough := e.roughFilter(d)
	e.splitRange(d, rough, 0, len(d.obs), 3)
	part, last := 0, 0
	for i := range d.obs {
		if d.obs[i].part != last {
			part++
			last = d.obs[i].part
		}
		d.obs[i].part = part
	}
	d.parts = part + 1
}

// What makes a day one in whose middle something changed.
const (
	oddDay      = 2.0  // its misfit over what days of this shop have
	oddGain     = 30.0 // by how much two parts must fit better than the whole, in chi-square
	leastInPart = 4    // runs
	cutsTried   = 64   // places in a day
)

// cutAtChange keeps one part of a day in whose middle something changed at once, such as a hose that came off: the part
// after it, if it has enough runs. A mean of two states fits neither, and would pass for something else.
func (e *Estimator) cutAtChange(d *dayData, x0 []float64, from float64) {
	n := len(d.obs)
	if !e.isOdd(d) || n < 2*leastInPart {
		return
	}
	best, at := d.misfit-oddGain, -1
	var kept *dayData
	try := func(k int) {
		before, after := e.partOf(d, 0, k), e.partOf(d, k, n)
		if !e.fitDay(before, x0, from) || !e.fitDay(after, x0, from) {
			return
		}
		if sum := before.misfit + after.misfit; sum < best {
			best, at, kept = sum, k, after
		}
	}
	step := 1 + n/cutsTried // of a day of very many runs first some places, and then those about the best of them
	for k := leastInPart; k <= n-leastInPart; k += step {
		try(k)
	}
	if at < 0 {
		return
	}
	for near, k := at, max(at-step+1, leastInPart); k < near+step && k <= n-leastInPart; k++ {
		if k != near {
			try(k)
		}
	}
	*d = *kept
}

// isOdd tells whether the runs of a day fit each other worse than those of this shop do.
func (e *Estimator) isOdd(d *dayData) bool {
	usual := e.scatter.within / max(e.scatter.nWithin, 1)
	if e.scatter.nWithin < 3 {
		usual = 1
	}
	return d.innovation >= oddDay*max(usual, 0.3)
}

// partOf returns a copy of a day with some of its runs.
func (e *Estimator) partOf(d *dayData, from, to int) *dayData {
	c := *d
	c.obs = append([]observation(nil), d.obs[from:to]...)
	c.filter = nil
	e.splitAtCleanings(&c)
	return &c
}

// roughFilter returns each run's own view of the log resistance beyond what is expected, everything else as known.
func (e *Estimator) roughFilter(d *dayData) []Value {
	out := make([]Value, len(d.obs))
	x0 := e.known(d.at)
	guess := e.filter.expect(e, d)
	for pass := range 2 {
		for i := range d.obs {
			g := guess
			if pass == 1 && out[i].SE > 0 {
				g = guess + out[i].V
			}
			o := &d.obs[i]
			out[i] = Value{V: math.NaN()}
			if o.set.kind == steady.Closed {
				continue // a new leak there would look like a filter that was cleaned afterwards
			}
			lin, ok := e.row(o, x0, g)
			if !ok {
				continue
			}
			var xx, xy float64
			for r := range lin.y {
				x := lin.x[r][e.cols.filter]
				xx += x * x
				xy += x * lin.y[r]
			}
			if xx > 0 {
				out[i] = Value{V: g - guess + xy/xx, SE: math.Sqrt(1/xx + dayError*dayError)}
			}
		}
	}
	return out
}

// row returns what one run says by itself, about what is known to have changed and a log resistance.
func (e *Estimator) row(o *observation, x0 []float64, logFilter float64) (linear, bool) {
	st := &state{logFilter: logFilter, params: x0, globals: e.cal.globals}
	v, at, atAir, err := e.viewer.at(o.set, st, o.air)
	if err != nil {
		return linear{}, false
	}
	bias := append([]float64(nil), e.biasOf(o.set.key)...)
	for c := range bias {
		bias[c] = (1+bias[c])*v.scaled(&e.cols, c, st, at) - 1
	}
	return e.equations(o, v, atAir, bias, e.cal.fresh, e.biasVariance(o.set), nil, e.hoodAlone)
}

// splitRange finds the best place to divide runs from..to, marks it, and looks on both sides.
func (e *Estimator) splitRange(d *dayData, rough []Value, from, to, left int) {
	if left == 0 || to-from < 2 {
		return
	}
	best, at := 0.0, -1
	for k := from + 1; k < to; k++ {
		a, b := pooled(rough[from:k]), pooled(rough[k:to])
		if !(a.SE > 0 && b.SE > 0) {
			continue
		}
		drop := a.V - b.V
		z := drop / math.Hypot(a.SE, b.SE)
		if drop > 2*cleaningDrop && z > 6 && z > best {
			best, at = z, k
		}
	}
	if at < 0 {
		return
	}
	mark := 1 << left
	for i := at; i < to; i++ {
		d.obs[i].part += mark
	}
	e.splitRange(d, rough, from, at, left-1)
	e.splitRange(d, rough, at, to, left-1)
}

package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// hours returns when a run was, in fan hours since the middle of its day's runs.
func (f *baselineFit) hours(d int, o *observation) float64 { return o.at - f.middle[d] }

// stirShare is the share of the variance of how a hood stands at a use by which it may be stirred within one while the baseline is
// made: its few days hardly show how much it is (common practice, no source).
const stirShare = 0.1

// hoodStir is as that of the estimator, with that share.
func (f *baselineFit) hoodStir(o *observation, k int) float64 {
	return math.Hypot(f.e.hoodStir(o, k), math.Sqrt(stirShare)*f.e.hoods.sd(o.set.machines[k]))
}

// linear returns one observation's whitened equations about the fit as it stands, and the view behind them.
func (f *baselineFit) linear(d int, o *observation) (linear, *view, bool) {
	e := f.e
	set := f.setIndex[o.set.key]
	s := &state{logFilter: f.x[f.filter(d)] + f.x[f.slope(d)]*f.hours(d, o), globals: f.tuning}
	v, at, atAir, err := e.viewer.at(o.set, s, o.air)
	if err != nil {
		return linear{}, nil, false
	}
	bias := make([]float64, f.channels)
	for c := range bias {
		row := v.jac[c]
		hoods := 0.0
		for k, m := range o.set.machines {
			hoods += row[e.cols.block0+m] * (f.x[f.hood(d, m)] + f.x[f.use(d, o.uses[k])])
		}
		bias[c] = (1+f.x[f.gain(c)]+f.x[f.bias(set, c)])*
			(1+row[e.cols.filter]*(s.logFilter-at.logFilter)+row[e.cols.density]*f.x[f.density(d)]+hoods) - 1
	}
	lin, ok := e.equations(o, v, atAir, bias, bias, make([]float64, f.channels), nil, f.hoodStir)
	return lin, v, ok
}

// add adds one observation's normal equations.
func (f *baselineFit) add(normal *mat.SymDense, rhs *mat.VecDense, d int, o *observation) {
	lin, v, ok := f.linear(d, o)
	if !ok {
		return
	}
	idx, rows := f.rows(v, d, o, &lin)
	for i := range lin.y {
		for a, ia := range idx {
			if rows[i][a] == 0 { // a drop that is shut
				continue
			}
			rhs.SetVec(ia, rhs.AtVec(ia)+rows[i][a]*lin.y[i])
			for b := a; b < len(idx); b++ {
				r, c := ia, idx[b]
				if r > c {
					r, c = c, r
				}
				normal.SetSym(r, c, normal.At(r, c)+rows[i][a]*rows[i][b])
			}
		}
	}
}

// rows picks the whitened derivatives of one observation by the unknowns that it touches.
func (f *baselineFit) rows(v *view, d int, o *observation, lin *linear) ([]int, [][]float64) {
	k := &f.e.cols
	set, hours := f.setIndex[o.set.key], f.hours(d, o)
	var idx []int
	for i := range 3 + f.built {
		idx = append(idx, i)
	}
	idx = append(idx, f.filter(d), f.density(d), f.slope(d))
	for k, m := range o.set.machines {
		idx = append(idx, f.hood(d, m), f.use(d, o.uses[k]))
	}
	for c := range f.channels {
		idx = append(idx, f.gain(c), f.bias(set, c))
	}
	rows := make([][]float64, len(lin.y))
	for i := range rows {
		x := lin.x[i]
		row := make([]float64, 3, len(idx))
		row = append(row, x[k.block0:k.block0+len(k.machines)+len(k.trunk)]...)
		first := len(row)
		row = append(row, make([]float64, len(f.e.viewer.laws))...)
		// the whitened derivative by a global or a law is the same mix of channels as that by the gains
		for c := range f.channels {
			w := x[k.gain0+c]
			for j := range 3 {
				row[j] += w * v.globals[c][j]
			}
			floats.AddScaled(row[first:], w, v.laws[c])
		}
		row = append(row, x[k.filter], x[k.density], x[k.filter]*hours)
		for _, m := range o.set.machines {
			row = append(row, x[k.block0+m], x[k.block0+m])
		}
		for c := range f.channels {
			row = append(row, x[k.gain0+c], x[k.gain0+c])
		}
		rows[i] = row
	}
	return idx, rows
}

// tune puts the fit as it stands into the model.
func (f *baselineFit) tune() {
	f.tuning = tuning{built: f.e.viewer.builtAs(f.x[3 : 3+f.built])}
	copy(f.tuning.factors[:], f.x)
}

package estimate

import (
	"fmt"
	"math"
	"sort"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// lowSide returns the suction at the low side of a sensor, in Pa: behind the filter or the separator, at the static holes of a
// pitot tube. It is NaN for a sensor whose low side is the room, or all but the room.
func (v *viewer) lowSide(res *duct.Result, s *shop.Sensor) float64 {
	switch s.Measures {
	case shop.VelocityPressure:
		for _, r := range res.Runs {
			if r.Name == s.Run && s.TapAt == shop.AtStart {
				return -r.StaticStart
			} else if r.Name == s.Run {
				return -r.StaticEnd
			}
		}
		return -res.InletStatic
	case shop.FilterDrop:
		if v.cols.filterFirst {
			return -res.InletStatic + res.SeparatorLoss + res.FilterDrop
		}
	case shop.SeparatorDrop:
		return -res.InletStatic + res.SeparatorLoss
	}
	return math.NaN()
}

// linearise solves the model and differentiates it.
func (v *viewer) linearise(g *gateSet, s *state, a air.State) (*view, error) {
	st := v.ductState(g, s, a)
	res, err := v.model.Solve(st)
	if err != nil {
		return nil, fmt.Errorf("gates open %q: %w", g.open, err)
	}
	ps := append(v.cols.params(),
		duct.Param{Kind: duct.LogLoss}, duct.Param{Kind: duct.LogLeakFactor}, duct.Param{Kind: duct.LogFanFactor})
	law0 := len(ps)
	if v.learning {
		ps = append(ps, v.laws...)
	}
	sens, err := v.model.Sensitivity(res, ps)
	if err != nil {
		return nil, fmt.Errorf("gates open %q: %w", g.open, err)
	}
	w := &view{fanFlow: res.FanFlow}
	k := &v.cols
	nModel := k.gain0
	for c, si := range k.sensor {
		p := res.Sensors[si].Value
		if p == 0 {
			p = 1e-3 // Pa: a channel that should read nothing is judged in absolute terms
		}
		row := make([]float64, k.all)
		for j := range nModel {
			row[j] = sens[si][j] / p
		}
		if h := k.straddle; h[2] > 0 {
			row[h[2]] = (row[h[0]] + row[h[1]]) / 2
		}
		row[k.gain0+c] = 1
		row[k.filter] = sens[si][nModel] / p
		row[k.density] = sens[si][nModel+1] / p
		var gl [3]float64
		for j := range gl {
			gl[j] = sens[si][nModel+2+j] / p
		}
		w.pred = append(w.pred, p)
		w.aside = append(w.aside, v.lowSide(res, k.sensors[c]))
		w.jac = append(w.jac, row)
		w.globals = append(w.globals, gl)
		if v.learning {
			laws := make([]float64, len(v.laws))
			for j := range laws {
				laws[j] = sens[si][law0+j] / p
			}
			w.laws = append(w.laws, laws)
		}
	}
	for _, m := range res.Machines {
		if col := k.machine(m.Name); m.Open && col >= 0 {
			w.machines = append(w.machines, col)
		}
	}
	sort.Ints(w.machines)
	return w, nil
}

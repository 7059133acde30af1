package estimate

import (
	"fmt"
	"maps"
	"math"
	"sort"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// state is the state of the plant that the model is linearised about.
type state struct {
	logFilter float64   // of the filter's resistance over the shop file's
	params    []float64 // columns.changes long
	globals   tuning    // of the model
}

// The calibration factors of the model, as logs.
const (
	globalLoss = iota // all duct losses
	globalLeak        // all designed leakage
	globalFan         // the fan's pressure
)

// view is the model of one gate set, linearised: what each channel should read and how that changes, relative to it,
// with each column.
type view struct {
	pred     []float64   // by channel
	aside    []float64   // by channel: what it reads with the room at its high side; NaN where that is nothing of its own
	jac      [][]float64 // [channel][columns.all], relative
	globals  [][3]float64
	machines []int       // columns of the blockages of the machines that draw air
	laws     [][]float64 // [channel][law], relative; nil unless it was made for a baseline
	fanFlow  float64     // m³/s; the rest of the solution, some kB, is let go: hundreds of views are kept
}

// viewer makes views and keeps them. It is not safe for concurrent use.
type viewer struct {
	collector *shop.Collector
	model     *duct.Model
	cols      columns
	cache     map[string]*view

	laws     []duct.Param           // of the model's wyes: what of them is learnt
	legs     []leg                  // of the model's wyes
	learning bool                   // views are for a baseline
	spreads  map[string][][]float64 // see spread
}

// filterGrid and the like are how coarsely the point of linearisation is chosen: what lies between is linear.
const (
	filterGrid      = 0.05 // of the log of the resistance
	temperatureGrid = 6.0  // K
	pressureGrid    = 2500.0
	leakGrid        = leakPrior / 20
	lossGrid        = 0.05 // of the log of a drop's or a trunk run's loss
	speedGrid       = 0.005
	cacheLimit      = 800       // views of a shop with a few sensors, a kB or two each
	cacheLeast      = 64        // of one with very many: about a day's gate sets
	cacheBytes      = 2_600_000 // of Jacobians: many sensors take about as much memory as a few
)

// viewsKept is how many views are kept. They are there for speed alone.
func (v *viewer) viewsKept() int {
	jacobian := 8 * max(1, len(v.cols.channels)*v.cols.all)
	return max(cacheLeast, min(cacheLimit, cacheBytes/jacobian))
}

func newViewer(c *shop.Collector, m *duct.Model) *viewer {
	return &viewer{collector: c, model: m, cols: newColumns(c, m), cache: map[string]*view{}, laws: lawsOf(c, m), legs: legsOf(m), spreads: map[string][][]float64{}}
}

// at returns the view of a gate set near a state and air, and the state and air that it was made at.
func (v *viewer) at(g *gateSet, s *state, a air.State) (*view, *state, air.State, error) {
	at := &state{logFilter: onGrid(s.logFilter, filterGrid), params: v.cols.onGrid(s.params), globals: s.globals}
	at0, err := air.At(onGrid(a.Temperature, temperatureGrid), onGrid(a.Pressure, pressureGrid), 0.5)
	if err != nil {
		return nil, nil, a, err
	}
	key := fmt.Sprintf("%s;%.3f;%.0f;%.0f;%x", g.key, at.logFilter, at0.Temperature, at0.Pressure, digest(at))
	if w, ok := v.cache[key]; ok && (w.laws != nil || !v.learning) {
		return w, at, at0, nil
	}
	w, err := v.linearise(g, at, at0)
	if err != nil {
		return nil, nil, a, err
	}
	if len(v.cache) >= v.viewsKept() {
		clear(v.cache)
	}
	v.cache[key] = w
	return w, at, at0, nil
}

func onGrid(x, grid float64) float64 { return grid * math.Round(x/grid) }

// onGrid returns the point of linearisation near the given changes; nil for nil. A sensor's scale is no part of the model.
func (k *columns) onGrid(params []float64) []float64 {
	if params == nil {
		return nil
	}
	out := make([]float64, len(params))
	for j, x := range params {
		if x == 0 {
			continue
		}
		switch k.kind(j) {
		case leakChange:
			out[j] = onGrid(x, leakGrid)
		case blockChange, chokeChange:
			out[j] = onGrid(x, lossGrid)
		case fanChange, wheelChange, behindChange:
			out[j] = onGrid(x, speedGrid)
		}
	}
	return out
}

// scaled returns what a channel reads in a state over what it reads where the view was made, to first order, the sensor's
// own scale included.
func (v *view) scaled(k *columns, c int, s, at *state) float64 {
	row, sum := v.jac[c], 0.0
	if s.params == nil {
		return 1 + row[k.filter]*(s.logFilter-at.logFilter)
	}
	for j, x := range s.params[:k.gain0] {
		if x != at.params[j] {
			sum += row[j] * (x - at.params[j])
		}
	}
	return (1 + row[k.filter]*(s.logFilter-at.logFilter)) * (1 + sum) * (1 + s.params[k.gain0+c])
}

// digest tells states apart in the cache.
func digest(s *state) uint64 {
	return digestOf(s.params)*31 ^ digestOf(s.globals.factors[:]) ^ s.globals.built.sum
}

// digestOf tells lists of numbers apart.
func digestOf(xs []float64) uint64 {
	h := uint64(14695981039346656037)
	for _, x := range xs {
		h ^= math.Float64bits(x)
		h *= 1099511628211
		h ^= h >> 29
	}
	return h
}

// ductState translates a state into the duct model's.
func (v *viewer) ductState(g *gateSet, s *state, a air.State) duct.State {
	st := duct.State{
		Setting:     g.setting,
		Air:         a,
		FilterRatio: math.Exp(s.logFilter),
		LossFactor:  math.Exp(s.globals.factors[globalLoss]),
		LeakFactor:  math.Exp(s.globals.factors[globalLeak]),
		FanFactor:   math.Exp(s.globals.factors[globalFan]),
		FanSpeed:    1,
		Blocked:     maps.Clone(s.globals.built.drops),
		Choked:      maps.Clone(s.globals.built.trunk),
		Mixing:      s.globals.built.mixing,
		Standing:    s.globals.built.stands,
		Trickle:     s.globals.built.little,
	}
	if s.params == nil {
		return st
	}
	for i := range v.cols.zones {
		if q := s.params[i]; q != 0 {
			v.addLeak(&st, i, q)
		}
	}
	for i, m := range v.cols.machines {
		if b := s.params[v.cols.block0+i]; b != 0 {
			st.Blocked = times(st.Blocked, m, math.Exp(b))
		}
	}
	for i, r := range v.cols.trunk {
		if b := s.params[v.cols.choke0+i]; b != 0 {
			st.Choked = times(st.Choked, r, math.Exp(b))
		}
	}
	st.FanSpeed = math.Exp(s.params[v.cols.fan])
	if v.cols.metered() {
		st.FanFactor *= math.Exp(s.params[v.cols.fan+1])
	}
	st.Throttle = math.Exp(s.params[v.cols.gain0-1])
	return st
}

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

// times puts a factor upon what stands under a name.
func times(m map[string]float64, name string, factor float64) map[string]float64 {
	if m == nil {
		m = map[string]float64{}
	}
	if have, ok := m[name]; ok {
		factor *= have
	}
	m[name] = factor
	return m
}

// addLeak puts the leak of a zone into the duct model's state.
func (v *viewer) addLeak(st *duct.State, zone int, q float64) {
	k := &v.cols
	if k.isRepeat(zone) {
		v.addLeak(st, k.straddle[0], q/2)
		v.addLeak(st, k.straddle[1], q/2)
		return
	}
	st.Leaks = append(st.Leaks, duct.Leak{Part: k.zones[zone], Flow: q, Exponent: leakExponent})
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

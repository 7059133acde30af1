package estimate

import (
	"fmt"
	"math"

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

	otherwise otherwise
	laws      []duct.Param           // of the model's wyes: what of them is learnt
	legs      []leg                  // of the model's wyes
	learning  bool                   // views are for a baseline
	spreads   map[string][][]float64 // see spread
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
		case leakChange, tearChange:
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

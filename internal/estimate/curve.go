package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/shop"
	"ductward/internal/steady"
)

// ownCurve is the fan's curve of a shop that has not entered it, learnt from the shop's own first days: while the filter is
// as it is, its drop is as good as the flow, and the pressure that the fan makes, the suction before the filter and the
// drop across it, falls as the flow rises:
//
//	p = a + b·q + c·q²,  q = drop at the first days' resistance
//
// Later the same pressure still means the same flow, so that the drop tells the resistance, over that of the first days.
// Absolute flow stays unknown.
type ownCurve struct {
	drop, static string
	pairs        [][2]float64 // drop, pressure of the runs that teach
	law          [3]float64
	spread       float64 // of log q about the law
	low, high    float64 // q seen
	known        bool
}

// What the first days must bring to teach the curve. They are few, since the filter loads meanwhile.
const (
	curveRuns   = 12
	curveMost   = 60   // runs; what is older is let go
	curveSpread = 1.25 // the largest drop over the smallest
	curveReach  = 1.3  // how far outside the flows seen the law is believed
	curveError  = 0.03 // of the log resistance of a day: the filter loaded while the law was learnt, on simulated shops
)

// newOwnCurve returns a curve to be learnt, nil where the sensors for it are missing.
func newOwnCurve(c *shop.Collector) *ownCurve {
	o := &ownCurve{}
	for _, s := range c.Sensors {
		switch {
		case s.Measures == shop.FilterDrop && o.drop == "":
			o.drop = c.Name + "/" + s.Name
		case s.Measures == shop.StaticPressure && o.static == "" && s.Run != "fan":
			o.static = c.Name + "/" + s.Name
		}
	}
	if o.drop == "" || o.static == "" {
		return nil
	}
	return o
}

// read returns the drop and the fan's pressure of a run, at standard density.
func (o *ownCurve) read(e *Estimator, r *steady.Run) (drop, pressure float64, ok bool) {
	d, s := channelOf(r, o.drop), channelOf(r, o.static)
	if d == nil || s == nil || d.Mean < 5 || s.Mean > -20 {
		return 0, 0, false
	}
	// the fan's pressure goes with density, the filter's drop with viscosity
	a, ref := e.airOf(r), e.standardAir()
	return d.Mean * ref.Viscosity / a.Viscosity, (d.Mean - s.Mean) * ref.Density / a.Density, true
}

// ratio returns the log of the resistance over that of the day that taught the curve.
func (o *ownCurve) ratio(drop, pressure float64) (Value, bool) {
	a, b, c := o.law[0]-pressure, o.law[1], o.law[2]
	root := b*b - 4*a*c
	if root < 0 || c >= 0 {
		return Value{}, false
	}
	q := (-b - math.Sqrt(root)) / (2 * c) // the branch on which the pressure falls
	if !(q > o.low/curveReach) || q > o.high*curveReach {
		return Value{}, false
	}
	return Value{V: math.Log(drop / q), SE: math.Max(o.spread, 0.01)}, true
}

// byDensity returns by how much the log of the flow falls for the log of the air's density, of which the fan makes its pressure.
func (o *ownCurve) byDensity(pressure float64) float64 {
	a, b, c := o.law[0]-pressure, o.law[1], o.law[2]
	root := math.Sqrt(max(b*b-4*a*c, 0))
	if root == 0 || c >= 0 {
		return 0
	}
	q := (-b - root) / (2 * c)
	return pressure / (q * root)
}

// learn fits the law to the days so far, if they have seen enough of the curve.
func (o *ownCurve) learn() {
	o.pairs = o.pairs[max(0, len(o.pairs)-curveMost):]
	n := len(o.pairs)
	if n < curveRuns {
		return
	}
	low, high := o.pairs[0][0], o.pairs[0][0]
	for _, p := range o.pairs {
		low, high = min(low, p[0]), max(high, p[0])
	}
	if high < curveSpread*low {
		return
	}
	x, y := mat.NewDense(n, 3, nil), mat.NewVecDense(n, nil)
	for i, p := range o.pairs {
		q := p[0] / high // scaled, so that the columns are of one size
		x.SetRow(i, []float64{1, q, q * q})
		y.SetVec(i, p[1])
	}
	var law mat.VecDense
	if err := law.SolveVec(x, y); err != nil {
		return
	}
	o.law = [3]float64{law.AtVec(0), law.AtVec(1) / high, law.AtVec(2) / (high * high)}
	o.low, o.high = low, high
	var off []float64
	for _, p := range o.pairs {
		if v, ok := o.ratio(p[0], p[1]); ok {
			off = append(off, math.Abs(v.V))
		}
	}
	if len(off) < curveRuns/2 {
		return
	}
	slices.Sort(off)
	o.spread = 1.4826 * off[len(off)/2] // with next to no air the law tells little, and that is no scatter of the others
	o.known = o.spread < 0.2
}

// curveRun takes a run of a shop without a drawing and without a fan curve.
func (e *Estimator) curveRun(d *dayData, r *steady.Run) {
	if r.Kind == steady.Closed {
		return
	}
	drop, pressure, ok := e.curve.read(e, r)
	if !ok {
		return
	}
	if !e.curve.known {
		e.curve.pairs = append(e.curve.pairs, [2]float64{drop, pressure})
		return
	}
	if v, ok := e.curve.ratio(drop, pressure); ok {
		run := *r
		d.rough = append(d.rough, roughRun{run: &run, filter: v, flow: Value{math.NaN(), math.NaN()}, byFan: e.curve.byDensity(pressure), known: e.measured(r)})
	}
}

// closeCurve ends such a day.
func (e *Estimator) closeCurve(d *dayData) {
	d.at = len(e.summary)
	e.summary = append(e.summary, e.bare(d))
	if !e.curve.known {
		e.curve.learn()
		return
	}
	if len(d.rough) == 0 {
		return
	}
	var vs []Value
	weather, weight := 0.0, 0.0 // which all runs of a day share
	for _, r := range d.rough {
		shared := math.Abs(r.byFan) * r.known.densityError(1)
		v := Value{r.filter.V, math.Hypot(r.filter.SE, shared)}
		vs = append(vs, v)
		weather, weight = weather+shared/(v.SE*v.SE), weight+1/(v.SE*v.SE)
	}
	p := pooled(vs)
	p.SE = math.Hypot(p.SE, weather/weight)
	p.SE = math.Hypot(math.Hypot(p.SE, e.curve.spread), curveError) // the law's own error is that of all runs
	d.filter = []Value{p}
	e.markRough(d)
	if e.cal == nil {
		e.cal = &calibration{logFilter: d.filter[0].V, bias: map[string][]float64{},
			from: d.obs[0].run.At, to: d.obs[len(d.obs)-1].run.At}
		e.stand()
		e.filter.baseSE = d.filter[0].SE
	}
	e.filterDay(d)
	out := e.bare(d)
	out.Runs = len(d.rough)
	out.FilterRatio = e.ratio(d.filter[0])
	e.summary[d.at] = out
}

package estimate

import (
	"math"

	"ductward/internal/duct"
)

// Two pressures tell the filter's resistance by the fan's curve, and at little air the curve is so flat that a hundredth of the fan's
// pressure is a tenth of the flow. So how the fan does otherwise than its curve is learnt from the baseline, and for each day what the
// weather and the belt make of it besides.

const (
	fanOtherwise = 0.02   // of the log of a fan's speed beside its curve, half of that of its pressure (common practice, no source)
	loadsInADay  = 0.02   // of the log of the resistance within a day, while the filter loads (the same)
	fanByDay     = 0.002  // of the log of its speed from day to day (the same)
	stillError   = 0.0007 // of that log by one gate-shut stretch, beside what the day's other runs share (on simulated shops)
	curveLaw     = 0.003  // of that log between two points of the curve that lie apart by one in what the resistance makes of it
)

// slopes adds what one day's runs with little air and with much say of the log of the fan's speed beyond what is known of it: at another,
// they ask for different resistances.
func (l *lump) slopes(d *dayData) (precision, sum float64) {
	weight := func(r *roughRun) float64 { return 1 / (r.filter.SE*r.filter.SE + loadsInADay*loadsInADay) }
	var w, v, s float64
	for i := range d.rough {
		if r := &d.rough[i]; r.tells() {
			w, v, s = w+weight(r), v+weight(r)*r.filter.V, s+weight(r)*r.byFan
		}
	}
	for i := range d.rough {
		if r := &d.rough[i]; r.tells() {
			by := r.byFan - s/w
			precision += weight(r) * by * by
			sum -= weight(r) * by * (r.filter.V - v/w)
		}
	}
	return precision, sum
}

// learnFan learns at which speed the fan would do as it does by its curve, in some steps, since it is far from linear where little air
// passes.
func (l *lump) learnFan(e *Estimator, days []*dayData) {
	for range 4 {
		precision, sum, by, n := 1/(fanOtherwise*fanOtherwise), -l.fan.V/(fanOtherwise*fanOtherwise), 0.0, 0.0
		for _, d := range days {
			p, s := l.slopes(d)
			precision, sum = precision+p, sum+s
			for i := range d.rough {
				if r := &d.rough[i]; r.tells() {
					by, n = by+r.byFan, n+1
				}
			}
		}
		l.fan, l.byFan = Value{l.fan.V + min(max(sum/precision, -0.02), 0.02), 1 / math.Sqrt(precision)}, by/max(n, 1)
		for _, d := range days {
			for i := range d.rough {
				if r := &d.rough[i]; r.tells() && r.byFan != 0 {
					l.readFan(e, r, r.filter.V)
				}
			}
			l.settle(d)
		}
	}
}

// fanToday returns what is otherwise today of the fan than in the baseline: by the day's gate-shut stretches, by its runs with little
// air and with much, and by what is believed of the weather.
func (l *lump) fanToday(d *dayData) Value {
	if l.fan.SE == 0 || len(d.rough) == 0 {
		return Value{}
	}
	precision, sum := l.slopes(d)
	precision, sum = precision/4, sum/4 // the curve's own errors are no scatter
	precision += 1 / (math.Pow(d.rough[0].known.densityError(1)/2, 2) + fanByDay*fanByDay)
	if l.still.SE > 0 {
		for i := range d.rough {
			if r := &d.rough[i]; r.shut && !math.IsNaN(r.still) {
				w := 1 / (stillError*stillError + l.still.SE*l.still.SE)
				precision, sum = precision+w, sum+w*(r.still-l.still.V)
			}
		}
	}
	return Value{sum / precision, 1 / math.Sqrt(precision)}
}

// learnStill learns what the gate-shut stretches have the fan do.
func (l *lump) learnStill(days []*dayData) {
	sum, n := 0.0, 0.0
	for _, d := range days {
		for i := range d.rough {
			if r := &d.rough[i]; r.shut && !math.IsNaN(r.still) {
				sum, n = sum+r.still, n+1
			}
		}
	}
	if n > 0 {
		l.still = Value{sum / n, stillError / math.Sqrt(n)}
	}
}

// fanAtRest returns the log of the fan's speed that a gate-shut stretch asks for by the curve, with next to no air: its suction is
// then the fan's own pressure less the filter's drop. NaN: the model has no solution.
func (l *lump) fanAtRest(r *roughRun, log float64) float64 {
	flow := l.through(r.drop, log)
	low, high := -mostAssumed, 2*mostAssumed
	var res *duct.Result
	for range 40 {
		x := (low + high) / 2
		var err error
		if res, err = l.solve(duct.State{Air: r.air, FilterRatio: math.Exp(log), LossFactor: math.Exp(x), FanSpeed: 1}, res); err != nil {
			return math.NaN()
		}
		if res.FanFlow > flow {
			low = x
		} else {
			high = x
		}
	}
	expected := res.Sensors[l.drop].Value - res.Sensors[l.static].Value
	if expected <= 0 || r.drop+r.suction <= 0 {
		return math.NaN()
	}
	return math.Log((r.drop+r.suction)/expected) / 2
}

// takeVelocity reads a run by the velocity of the air in the trunk, which needs no fan's curve; false: none is read.
func (l *lump) takeVelocity(e *Estimator, o *roughRun) bool {
	v := channelOf(o.run, l.velocityCh)
	if l.velocityCh == "" || v == nil || math.IsNaN(v.SE) {
		return false
	}
	se := math.Hypot(v.SE, e.zeroError(v)) / (2 * v.Mean)
	if !(v.Mean > 5) || se > 0.05 || o.drop < 5 {
		return true // too little air
	}
	q := l.area * math.Sqrt(2*v.Mean/o.air.Density)
	viscous := l.viscous * o.air.Viscosity / e.standardAir().Viscosity
	o.flow = Value{q, math.Hypot(gainPrior, 0.05) * q}
	o.filter = Value{math.Log(o.drop / (viscous * q)), math.Hypot(math.Hypot(se, o.dropSE/o.drop), modelFloor+o.known.densityError(1)/2)}
	return true
}

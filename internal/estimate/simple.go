package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/steady"
)

// simpleRun takes a run of a collector without a drawing.
func (e *Estimator) simpleRun(d *dayData, r *steady.Run) {
	if e.lump == nil {
		if e.curve != nil {
			e.curveRun(d, r)
		}
		return
	}
	if r.Kind == steady.Closed {
		drop, static := channelOf(r, e.lump.dropCh), channelOf(r, e.lump.statCh)
		if drop != nil && static != nil && !math.IsNaN(drop.SE) && static.Mean < -50 {
			e.lump.closed = append(e.lump.closed, closedCheck{drop: drop.Mean, se: math.Hypot(drop.SE, e.zeroError(drop)), suction: -static.Mean})
		}
		return
	}
	guess := 0.0
	if n := len(d.rough); n > 0 {
		guess = d.rough[n-1].filter.V
	} else if n := len(e.filter.points); n > 0 {
		guess = e.filter.points[n-1].log.V
	}
	f, q, ok := e.lump.fit(e, r, guess)
	if !ok {
		return
	}
	run := *r
	d.rough = append(d.rough, roughRun{run: &run, filter: f, flow: q})
}

// roughRun is one run as the lumped model reads it.
type roughRun struct {
	run    *steady.Run
	filter Value
	flow   Value
}

// closeSimple ends a day of a collector without a drawing.
func (e *Estimator) closeSimple(d *dayData) {
	if e.lump == nil && e.curve != nil {
		e.closeCurve(d)
		return
	}
	d.at = len(e.summary)
	if e.lump == nil || len(d.rough) == 0 {
		e.summary = append(e.summary, e.bare(d))
		return
	}
	e.settleRough(d)
	e.days = append(e.days, d)
	if len(e.days) > window {
		e.days = e.days[1:]
	}
	e.summary = append(e.summary, e.bare(d))
	e.simpleBaseline(d)
	if e.cal != nil {
		e.filterDay(d)
		e.simpleLeak(d)
		e.summary[d.at] = e.describeSimple(d)
	}
	e.lump.closed = nil
}

// settleRough pools what the runs of a day say of the filter.
func (e *Estimator) settleRough(d *dayData) {
	var vs []Value
	for _, r := range d.rough {
		vs = append(vs, r.filter)
	}
	p := pooled(vs)
	p.SE = math.Hypot(p.SE, dayErrorLong)
	d.filter = []Value{p}
	for _, r := range d.rough {
		o := observation{run: r.run, set: e.setOf(r.run)}
		if n := len(d.obs); n > 0 {
			o.at = d.obs[n-1].at + r.run.FanHours
		}
		d.obs = append(d.obs, o)
	}
}

// simpleBaseline gathers the baseline of a collector without a drawing: the filter's resistance, and the leakage that
// its closed checks showed.
func (e *Estimator) simpleBaseline(d *dayData) {
	if e.cal != nil {
		return
	}
	l := e.lump
	l.baseFilter = append(l.baseFilter, d.filter[0])
	if q, ok := e.closedLeak(d); ok {
		l.leakBase = combine(l.leakBase, q, len(l.baseFilter) > 1 && l.leakBase.SE > 0)
	}
	if len(l.baseFilter) < baselineDays {
		return
	}
	first := e.days[0]
	p := pooled(l.baseFilter)
	e.cal = &calibration{logFilter: p.V, bias: map[string][]float64{}, misfit: 0,
		from: first.obs[0].run.At, to: d.obs[len(d.obs)-1].run.At}
	e.stand()
	e.filter.baseSE = p.SE
}

// combine pools two values.
func combine(a, b Value, had bool) Value {
	if !had {
		return b
	}
	return pooled([]Value{a, b})
}

// closedLeak returns the leakage at the reference suction that a day's closed checks showed, with the day's own
// resistance: with every gate shut the filter is a flow meter whose whole flow is leakage.
func (e *Estimator) closedLeak(d *dayData) (Value, bool) {
	f := e.collector.Filter
	viscous := (f.CleanDrop - f.HousingLoss) / f.CleanFlow * math.Exp(d.filter[0].V)
	var vs []Value
	for _, c := range e.lump.closed {
		q := c.drop / viscous * math.Pow(e.reference/c.suction, 0.65)
		rel := math.Hypot(c.se/math.Max(c.drop, 0.5), d.filter[0].SE)
		vs = append(vs, Value{q, math.Max(q*rel, 1e-6)})
	}
	if len(vs) == 0 {
		return Value{}, false
	}
	return pooled(vs), true
}

// simpleLeak scans the closed checks for a leak.
func (e *Estimator) simpleLeak(d *dayData) {
	q, ok := e.closedLeak(d)
	if !ok {
		return
	}
	l := e.lump
	if l.leakBase.SE == 0 {
		l.leakBase = q
		return
	}
	info := detect.Information{Lambda: mat.NewSymDense(1, []float64{1 / (q.SE * q.SE)}), Eta: mat.NewVecDense(1, []float64{(q.V - l.leakBase.V) / (q.SE * q.SE)})}
	l.days, l.at = append(l.days, info), append(l.at, d.at)
	e.level.step(Value{q.V - l.leakBase.V, q.SE}, 0, math.Pow(dailyGrowth, 2))
	before := detect.NewInformation(1)
	before.Lambda.SetSym(0, 0, 1/(l.leakBase.SE*l.leakBase.SE))
	s := detect.Scan{Days: l.days, Before: before, Onsets: onsets(0, len(l.days), -1), Inflation: 1,
		Hypotheses: []detect.Hypothesis{{Param: 0, Prior: leakPrior, Growth: growthPrior, Sign: 1, Weight: 1}}, Profiles: []detect.Profile{detect.Step, detect.Ramp}}
	best := bestScore(s.Run(), s.Hypotheses)
	if best == nil || best.Z < e.threshold() || e.hasActive(finding.NewLeak) || e.hasActive(finding.GrowingLeak) {
		return
	}
	e.tellSimpleLeak(best)
}

// tellSimpleLeak raises the finding of a leak that closed checks showed.
func (e *Estimator) tellSimpleLeak(s *detect.Score) {
	size, sd := s.Size, math.Sqrt(s.Variance)
	kind := finding.NewLeak
	if s.Profile == detect.Ramp {
		n := float64(len(e.lump.days) - s.Onset)
		size, sd, kind = size*n, sd*n, finding.GrowingLeak
	}
	c := &change{profile: s.Profile, mean: size, sd: sd}
	f := finding.Finding{Collector: e.collector.Name, Kind: kind, Priority: finding.Plan, Raised: e.lastAt,
		Onset: e.dayTime(e.lump.at[s.Onset]), Size: size, SizeUnit: "m3/s", Confidence: confidence,
		Where: []finding.Place{{Part: "other", Probability: 1}}}
	f.OnsetLow, f.OnsetHigh = f.Onset, f.Onset
	q := detect.Quantile(confidence)
	f.SizeLow, f.SizeHigh = max(size-q*sd, 0), size+q*sd
	f.ID = e.newID(kind, "", f.Onset)
	e.leakWords(&f, c)
	f.Evidence = "With every gate shut, more air passes the filter than in the baseline."
	e.findings = append(e.findings, f)
}

// describeSimple makes the summary of a day of a collector without a drawing.
func (e *Estimator) describeSimple(d *dayData) Day {
	out := e.bare(d)
	out.Runs = len(d.rough)
	out.FilterRatio = e.ratio(d.filter[0])
	if e.level.Known {
		out.Leakage = Value{e.level.Mean, math.Sqrt(e.level.Variance + e.lump.leakBase.SE*e.lump.leakBase.SE)}
	}
	var sum, hours float64
	for _, r := range d.rough {
		h := (r.run.End - r.run.Start).Hours()
		sum += r.flow.V * h
		hours += h
	}
	if hours > 0 {
		out.Flow = Value{sum / hours, d.rough[0].flow.SE / d.rough[0].flow.V * sum / hours}
	}
	out.Due = e.forecast()
	e.tellDue(out.Due)
	return out
}

// simpleNow is Now for a collector without a drawing.
func (e *Estimator) simpleNow(n Now, r *steady.Run) Now {
	if e.cal == nil {
		return n
	}
	n.Filter = e.filterNow()
	if e.lump == nil {
		return n
	}
	if e.level.Known {
		n.Leakage = Value{e.level.Mean, math.Sqrt(e.level.Variance)}
	}
	if r.Kind == steady.Running {
		if f, q, ok := e.lump.fit(e, r, e.logFilterNow()); ok {
			n.Flow = q
			n.Filter = e.ratio(f)
		}
	}
	return n
}

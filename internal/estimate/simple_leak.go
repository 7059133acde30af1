package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
)

// With every gate shut the filter is a flow meter whose whole flow is leakage.

// Errors of the leakage of a day, relative. What the fan's curve and the parts' gains do to a filter's resistance changes with it and
// with the machines in use: over days it hardly averages out. A scan for an onset counts it as much in the mean of so many days as in
// one, and no change is told that is not so many times as large.
const (
	lawOfLump = 0.02
	lawDays   = 4.0
	lawTimes  = 3.0
	lumpScale = 0.06 // of all flows
	closedLaw = 0.65 // exponent from the suction that there was to the reference
	goneAfter = 3    // days of gate-shut stretches on end that must show it
)

// closedLeak returns the leakage at the reference suction that a day's gate-shut stretches showed, with the day's own resistance.
func (e *Estimator) closedLeak(d *dayData) (Value, bool) {
	var vs []Value
	middle := e.lump.middle(d)
	for _, r := range d.rough {
		if !r.shut {
			continue
		}
		late := r.hours - middle
		log := d.filter[0].V + d.slope.V*late // a check at the day's start meets a cleaner filter
		scale := math.Pow(e.reference/r.suction, closedLaw)
		q := e.lump.through(r.drop, log) * scale
		vs = append(vs, Value{q, max(math.Hypot(e.lump.through(r.dropSE, log)*scale, q*d.slope.SE*late), 1e-6)})
	}
	if len(vs) == 0 {
		return Value{}, false
	}
	p := pooled(vs)
	p.SE = math.Hypot(p.SE, p.V*d.filter[0].SE)
	return p, true
}

// simpleLeak follows the leakage of the gate-shut stretches, and scans it for a leak.
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
	law := lawOfLump * q.V
	q.V -= l.leakBase.V
	e.level.step(q, 0, math.Pow(dailyGrowth, 2))
	l.note(Value{q.V, math.Hypot(q.SE, math.Sqrt(lawDays)*law)}, d.at)
	if f := e.simpleStanding(); f != nil {
		e.followSimple(f)
		return
	}
	if s := l.scan(); s != nil && s.Z >= e.threshold() && e.level.Mean > max(lawTimes*law, e.collector.Alarms.LeakToTell) {
		e.tellSimpleLeak(s)
	}
}

// note keeps what a day says.
func (l *lump) note(q Value, at int) {
	w := 1 / (q.SE * q.SE)
	l.days = append(l.days, detect.Information{Lambda: mat.NewSymDense(1, []float64{w}), Eta: mat.NewVecDense(1, []float64{q.V * w})})
	l.at, l.leakDays = append(l.at, at), append(l.leakDays, q)
	if len(l.days) > window {
		l.days, l.at, l.leakDays = l.days[1:], l.at[1:], l.leakDays[1:]
	}
}

// scan looks for a leak that began within the days that are kept; nil: it could not.
func (l *lump) scan() *detect.Score {
	before := detect.NewInformation(1)
	before.Lambda.SetSym(0, 0, 1/(l.leakBase.SE*l.leakBase.SE))
	s := detect.Scan{Days: l.days, Before: before, Onsets: onsets(0, len(l.days), -1), Inflation: 1,
		Hypotheses: []detect.Hypothesis{{Param: 0, Prior: leakPrior, Growth: growthPrior, Sign: 1, Weight: 1}}, Profiles: []detect.Profile{detect.Step, detect.Ramp}}
	return bestScore(s.Run(), s.Hypotheses)
}

// simpleLeakage is the total new leakage.
func (e *Estimator) simpleLeakage() Value {
	if !e.level.Known {
		return Value{math.NaN(), math.NaN()}
	}
	base := e.lump.leakBase
	law := math.Hypot(lumpScale*e.level.Mean, lawOfLump*(base.V+e.level.Mean))
	return Value{e.level.Mean, math.Hypot(math.Sqrt(e.level.Variance+base.SE*base.SE), law)}
}

// simpleStanding returns the leak that is told; nil: none is.
func (e *Estimator) simpleStanding() *finding.Finding {
	for i := range e.findings {
		if f := &e.findings[i]; f.Active() && (f.Kind == finding.NewLeak || f.Kind == finding.GrowingLeak) {
			return f
		}
	}
	return nil
}

// tellSimpleLeak raises the finding of a leak that gate-shut stretches showed.
func (e *Estimator) tellSimpleLeak(s *detect.Score) {
	kind, profile := finding.NewLeak, s.Profile
	if profile == detect.Ramp {
		kind = finding.GrowingLeak
	}
	onset := e.dayTime(e.lump.at[s.Onset])
	f := finding.Finding{Collector: e.collector.Name, Kind: kind, Priority: finding.Plan, Raised: e.lastAt, SizeUnit: "m3/s",
		Confidence: confidence, Where: []finding.Place{{Part: "other", Probability: 1}}, Onset: onset, OnsetLow: onset, OnsetHigh: onset}
	f.ID = e.newID(kind, "", f.Onset)
	e.sizeSimple(&f)
	e.findings = append(e.findings, f)
}

// sizeSimple gives a leak the size that the leakage has by now.
func (e *Estimator) sizeSimple(f *finding.Finding) {
	v, q := e.simpleLeakage(), detect.Quantile(confidence)
	c := &change{mean: v.V, sd: v.SE}
	if f.Kind == finding.GrowingLeak {
		c.profile = detect.Ramp
	}
	f.Size, f.SizeLow, f.SizeHigh = v.V, max(v.V-q*v.SE, 0), v.V+q*v.SE
	e.leakWords(f, c)
	row := diagnosis.Of(f.Kind)
	f.ConfusableWith, f.Action = row.Others(), row.Action("")
	f.Evidence = "With every gate shut, more air passes the filter than in the baseline."
	if len(e.collector.Gates) == 0 {
		f.Evidence += " That they are shut is told by how little air there is."
	}
}

// followSimple keeps the size of a leak that is told, and ends it where some stretches on end show half of it at most, surely.
func (e *Estimator) followSimple(f *finding.Finding) {
	days := e.lump.leakDays
	n := len(days)
	gone := n >= goneAfter
	for _, q := range days[max(0, n-goneAfter):] {
		gone = gone && detect.Below(f.Size/2, q.V, q.SE) > 0.95
	}
	if !gone {
		if n < 2 || days[n-1].V > f.Size/2 { // it may be gone: the size stays until that is known
			e.sizeSimple(f)
		}
		return
	}
	f.Ended = e.lastAt
	e.lump.days, e.lump.at, e.lump.leakDays = nil, nil, nil
	e.level = leakLevel{}
}

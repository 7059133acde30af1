package estimate

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"time"

	"ductward/internal/detect"
	"ductward/internal/duct"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

var errNoFit = errors.New("the baseline's readings do not determine the model")

// Estimator folds the runs of one collector. It is not safe for concurrent use.
type Estimator struct {
	site      shop.Site
	collector *shop.Collector
	reference float64 // Pa

	temperature, barometer, humidity string // channels, "" if not measured

	cols   columns
	viewer *viewer   // nil: no drawing
	lump   *lump     // in its place; nil: too few sensors, or no fan curve
	curve  *ownCurve // in its place; nil: too few sensors
	lacks  []string

	sets map[string]*gateSet
	cal  *calibration

	open     *dayData // the day that goes on
	lastEnd  time.Duration
	lastBoot uint32
	lastAt   time.Time
	firstAt  time.Time
	gathered []*dayData // of the baseline in the making
	restart  bool       // an entry asked for a new baseline

	days     []*dayData         // since the baseline, at most window of them with their runs
	summary  []Day              // every day, for good
	before   detect.Information // baseline and days that have left the window
	segment  int                // number of days already told apart by the last change: scans begin there
	changes  []*change
	level    detect.Level // of the total new leakage
	scatter  scatter
	baseInfo detect.Information
	seen     []bool // by zone: the baseline could have seen a leak there

	filter     filterState
	short      map[string]*shortAir
	dust       map[string]*dustRun // by run
	faults     faultBook
	distrusted map[string]bool // channels left out of the estimate

	entries  []journal.Entry
	findings []finding.Finding
}

// window is how many days keep their runs and are scanned for an onset.
const window = 60

// New returns an estimator that has seen nothing.
func New(s *shop.Shop, c *shop.Collector) (*Estimator, error) {
	e := &Estimator{
		site:       s.Site,
		collector:  c,
		reference:  c.Alarms.ReferenceSuction,
		sets:       map[string]*gateSet{},
		short:      map[string]*shortAir{},
		dust:       map[string]*dustRun{},
		distrusted: map[string]bool{},
		faults:     newFaultBook(),
	}
	if e.reference == 0 {
		e.reference = 1500
	}
	if e.site.Location == nil {
		e.site.Location = time.UTC
	}
	for _, sensor := range c.Sensors {
		ch := c.Name + "/" + sensor.Name
		switch sensor.Measures {
		case shop.AirTemperature:
			e.temperature = ch
		case shop.BarometricPressure:
			e.barometer = ch
		case shop.RelativeHumidity:
			e.humidity = ch
		}
	}
	if err := e.readDrawing(); err != nil {
		return nil, err
	}
	e.lacks = e.missing()
	return e, nil
}

// readDrawing prepares the duct model, if there is a drawing and a sensor that it predicts.
func (e *Estimator) readDrawing() error {
	if e.collector.Network == nil {
		if e.lump = newLump(e.collector); e.lump == nil {
			e.curve = newOwnCurve(e.collector)
		}
		return nil
	}
	m, err := duct.New(e.collector)
	if err != nil {
		return fmt.Errorf("the drawing cannot be solved: %w", err)
	}
	v := newViewer(e.collector, m)
	if len(v.cols.channels) == 0 {
		return nil
	}
	e.viewer, e.cols = v, v.cols
	return nil
}

// ReferenceSuction returns the suction at which leaks are told, in Pa.
func (e *Estimator) ReferenceSuction() float64 { return e.reference }

// Baseline returns the baseline as it stands.
func (e *Estimator) Baseline() Baseline {
	if e.cal == nil {
		b := Baseline{MisfitRMS: math.NaN(), Lacks: e.baselineLacks()}
		if len(e.gathered) > 0 {
			b.From = e.firstAt
		}
		return b
	}
	return Baseline{From: e.cal.from, To: e.cal.to, Version: e.cal.version, GateSets: len(e.cal.bias),
		MisfitRMS: e.cal.misfit, Complete: true}
}

// Days returns what is known of each day, oldest first.
func (e *Estimator) Days() []Day { return append([]Day(nil), e.summary...) }

// Findings returns all findings, oldest first.
func (e *Estimator) Findings() []finding.Finding { return e.findings }

// Lacks returns what cannot be told, and what would tell it.
func (e *Estimator) Lacks() []string { return append([]string(nil), e.lacks...) }

// dayGap is how long the fan must rest for a new day of sessions to begin.
const dayGap = 4 * time.Hour

// Run takes one run.
func (e *Estimator) Run(r steady.Run) {
	if r.Kind == steady.Zero {
		e.faults.zero(e, &r)
		return
	}
	if e.open != nil && e.isNewDay(&r) {
		e.closeDay()
	}
	if e.open == nil {
		e.open = &dayData{parts: 1}
		if !r.At.IsZero() {
			e.open.label = r.At.In(e.site.Location).Format("2006-01-02")
		}
	}
	e.lastEnd, e.lastBoot = r.End, r.Boot
	if !r.At.IsZero() {
		if e.firstAt.IsZero() {
			e.firstAt = r.At
		}
		e.lastAt = r.At
	}
	d := e.open
	d.fanHours += r.FanHours
	e.faults.noise(e, &r)
	if r.Kind == steady.Unknown {
		return
	}
	if r.Kind == steady.Closed {
		d.closed++
	}
	if e.viewer == nil {
		e.simpleRun(d, &r)
		return
	}
	run := r
	o, ok := e.observe(&run, e.setOf(&run))
	if !ok {
		return
	}
	o.at = 0
	if len(d.obs) > 0 {
		o.at = d.obs[len(d.obs)-1].at + r.FanHours
	}
	d.obs = append(d.obs, o)
	if r.Kind == steady.Closed && e.cal != nil && len(d.obs) >= 4 {
		e.provisional()
	}
}

// isNewDay tells whether a run begins a new day of fan sessions.
func (e *Estimator) isNewDay(r *steady.Run) bool {
	if r.Boot == e.lastBoot {
		return r.Start-e.lastEnd >= dayGap
	}
	return !r.At.IsZero() && !e.lastAt.IsZero() && r.At.Sub(e.lastAt) >= dayGap
}

// setOf returns the gate set of a run, the same one for the same gates.
func (e *Estimator) setOf(r *steady.Run) *gateSet {
	g := newGateSet(r)
	if have := e.sets[g.key]; have != nil {
		return have
	}
	e.sets[g.key] = &g
	return &g
}

// Flush ends the open day.
func (e *Estimator) Flush() {
	if e.open != nil {
		e.closeDay()
	}
}

// Entry takes an entry of the journal.
func (e *Estimator) Entry(j journal.Entry) {
	e.entries = append(e.entries, j)
	if j.Kind == journal.Baseline || j.Kind == journal.DuctChanged || j.Kind == journal.SensorChanged {
		if j.Subject == "" || e.owns(j.Subject) {
			e.restart = true
		}
	}
}

// owns tells whether a name of the shop file belongs to this collector.
func (e *Estimator) owns(name string) bool {
	c := e.collector
	if name == c.Name {
		return true
	}
	for _, m := range c.Machines {
		if m.Name == name {
			return true
		}
	}
	for _, g := range c.Gates {
		if g.Name == name {
			return true
		}
	}
	for _, s := range c.Sensors {
		if s.Name == name || c.Name+"/"+s.Name == name {
			return true
		}
	}
	if c.Network != nil {
		for _, r := range c.Network.Runs {
			if r.Name == name {
				return true
			}
		}
	}
	return false
}

// closeDay ends the open day and draws from it what it holds.
func (e *Estimator) closeDay() {
	d := e.open
	e.open = nil
	if e.restart {
		e.restart = false
		e.supersede()
	}
	if e.viewer == nil {
		e.closeSimple(d)
		return
	}
	if len(d.obs) == 0 {
		e.summary = append(e.summary, e.bare(d))
		return
	}
	if e.cal == nil {
		e.gather(d)
		return
	}
	e.take(d)
}

// supersede starts a new baseline: what was found against the old one is ended, and its trend lines break.
func (e *Estimator) supersede() {
	if e.cal == nil {
		e.gathered = nil
		return
	}
	version := e.cal.version
	e.cal = nil
	e.gathered = nil
	e.days, e.changes = nil, nil
	e.level = detect.Level{}
	e.filter = filterState{floors: e.filter.floors, version: version}
	for i := range e.findings {
		f := &e.findings[i]
		if f.Active() && f.Kind != finding.SensorLost {
			f.Ended = e.lastAt
		}
	}
}

// gather adds a day to the baseline in the making, and fits it when there is enough.
func (e *Estimator) gather(d *dayData) {
	e.gathered = append(e.gathered, d)
	e.summary = append(e.summary, e.bare(d))
	days, runs := e.gatheredSize()
	if days < baselineDays || runs < baselineRuns {
		return
	}
	var obs [][]observation
	for _, g := range e.gathered {
		obs = append(obs, g.obs)
	}
	cal, err := e.fitBaseline(obs)
	if err != nil {
		return // more days may determine it
	}
	cal.version = e.filter.version + 1
	first, last := e.gathered[0].obs[0].run, d.obs[len(d.obs)-1].run
	cal.from, cal.to = first.At, last.At
	e.cal = cal
	e.begin()
}

// gatheredSize counts the days and runs of the baseline in the making.
func (e *Estimator) gatheredSize() (days, runs int) {
	for _, g := range e.gathered {
		if len(g.obs) >= baselineDayRuns {
			days++
		}
		runs += len(g.obs)
	}
	return days, runs
}

// begin takes the baseline's own days: they say how well the baseline is known.
func (e *Estimator) begin() {
	p := e.cols.changes
	e.before = detect.NewInformation(p)
	e.baseInfo = detect.NewInformation(p)
	x0 := make([]float64, p)
	at := len(e.summary) - len(e.gathered)
	for i, d := range e.gathered {
		d.at = at + i
		if !e.fitDay(d, x0, e.cal.logFilter) {
			continue
		}
		// the baseline says nothing about a change, only how well the zero of all changes is known
		e.baseInfo.Lambda.AddSym(e.baseInfo.Lambda, d.info.Lambda)
	}
	e.judgeZones()
	e.before.Add(1, e.baseInfo)
	e.addWeak(e.before, x0)
	e.calibrateFilter()
	for _, d := range e.gathered {
		if len(d.filter) == 0 {
			continue
		}
		e.filterDay(d)
		e.summary[d.at] = e.describe(d)
	}
	e.gathered = nil
	e.days = nil
	e.segment = 0
}

// addWeak adds the weak belief that the changes are near x.
func (e *Estimator) addWeak(i detect.Information, x []float64) {
	for j, sd := range e.changePriors() {
		k := 1 / (sd * sd)
		i.Lambda.SetSym(j, j, i.Lambda.At(j, j)+k)
		i.Eta.SetVec(j, i.Eta.AtVec(j)+k*x[j])
	}
}

// take takes a finished day against the baseline.
func (e *Estimator) take(d *dayData) {
	d.at = len(e.summary)
	e.splitAtCleanings(d)
	x0 := e.known(d.at)
	if !e.fitDay(d, x0, e.filter.expect(e, d)) {
		e.summary = append(e.summary, e.bare(d))
		return
	}
	e.cutAtChange(d, x0, e.filter.expect(e, d))
	e.days = append(e.days, d)
	e.summary = append(e.summary, Day{})
	e.scatter.day(d.innovation)
	if !e.followUp(d) {
		e.scan()
	}
	e.track(d)
	e.filterDay(d)
	e.learn(d)
	e.airDay(d)
	e.summary[d.at] = e.describe(d)
	e.roll()
}

// provisional looks at the day that goes on, just after a closed check: a sudden leak need not wait for the evening.
func (e *Estimator) provisional() {
	d := e.open
	c := *d
	c.at = len(e.summary)
	if !e.fitDay(&c, e.known(c.at), e.filter.expect(e, &c)) {
		return
	}
	e.days = append(e.days, &c)
	if !e.followUp(&c) {
		e.scan()
	}
	e.days = e.days[:len(e.days)-1]
}

// roll lets the oldest day go when the window is full: its information stays.
func (e *Estimator) roll() {
	for len(e.days) > window {
		d := e.days[0]
		e.before.Add(1, e.residual(d))
		e.days = e.days[1:]
		e.segment = max(e.segment-1, 0)
	}
}

// bare is the summary of a day that says nothing.
func (e *Estimator) bare(d *dayData) Day {
	nan := Value{math.NaN(), math.NaN()}
	return Day{Date: d.label, FanHours: d.fanHours, Runs: len(d.obs), ClosedChecks: d.closed, FilterRatio: nan, Leakage: nan,
		FanRatio: nan, Flow: nan, Innovation: math.NaN()}
}

// biasOf returns the bias of a gate set by channel, and biasVariance the variance of its error.
func (e *Estimator) biasOf(key string) []float64 {
	if b := e.cal.bias[key]; b != nil {
		return b
	}
	return e.cal.fresh
}

func (e *Estimator) biasVariance(key string) []float64 {
	if v := e.cal.variance[key]; v != nil {
		return v
	}
	out := make([]float64, len(e.cols.channels))
	for c := range out {
		out[c] = e.cal.freshVar
	}
	return out
}

// learn takes what a day says about gate sets that the baseline had not seen: the rest of the day knows the filter, so
// what is left in the new set is its own ratio.
func (e *Estimator) learn(d *dayData) {
	x0 := e.known(d.at)
	seen := map[string]bool{}
	for i := range d.obs {
		key := d.obs[i].set.key
		if seen[key] || e.cal.variance[key] != nil && maxOf(e.cal.variance[key]) < e.cal.freshVar/9 {
			continue
		}
		seen[key] = true
		e.learnSet(d, key, x0)
	}
}

// learnSet updates the bias of one gate set by its mean residual of the day.
func (e *Estimator) learnSet(d *dayData, key string, x0 []float64) {
	n := len(e.cols.channels)
	bias := append([]float64(nil), e.biasOf(key)...)
	variance := append([]float64(nil), e.biasVariance(key)...)
	sum, count := make([]float64, n), make([]float64, n)
	noise := make([]float64, n)
	for i := range d.obs {
		o := &d.obs[i]
		if o.set.key != key {
			continue
		}
		st := &state{logFilter: d.filter[o.part].V, params: x0, globals: e.cal.globals}
		v, at, _, err := e.viewer.at(o.set, st, o.air)
		if err != nil {
			return
		}
		for j, c := range o.have {
			row := v.jac[c]
			expect := v.pred[c] * (1 + row[e.cols.filter]*(st.logFilter-at.logFilter)) * (1 + x0[e.cols.gain0+c])
			sum[c] += o.value[j]/expect - 1
			count[c]++
			hood := 0.0
			for _, m := range v.machines {
				hood += row[m] * row[m]
			}
			f := row[e.cols.filter] * d.filter[o.part].SE
			noise[c] = hoodJitter*hoodJitter*hood + math.Pow(o.se[j]/expect, 2) + f*f + dayErrorLong*dayErrorLong
		}
	}
	for c := range n {
		if count[c] == 0 {
			continue
		}
		r := noise[c]/count[c] + dayErrorLong*dayErrorLong
		gain := variance[c] / (variance[c] + r)
		bias[c] += gain * (sum[c]/count[c] - bias[c])
		variance[c] *= 1 - gain
	}
	e.cal.bias[key], e.cal.variance[key] = bias, variance
}

func maxOf(x []float64) float64 {
	m := x[0]
	for _, v := range x {
		m = max(m, v)
	}
	return m
}

// sortedKeys returns the keys of a map in order: sums and findings never depend on the order of a map.
func sortedKeys[T any](m map[string]T) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

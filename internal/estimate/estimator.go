package estimate

import (
	"errors"
	"fmt"
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
	collector *shop.Collector `checkpoint:"-"`
	reference float64         // Pa

	temperature, barometer, humidity string // channels, "" if not measured
	usualTemperature, usualPressure  usual
	thermometer                      bool // the room's temperature was read on the last day

	cols   columns   `checkpoint:"-"`
	viewer *viewer   `checkpoint:"-"` // nil: no drawing
	lump   *lump     // in its place; nil: too few sensors, or no fan curve
	curve  *ownCurve // in its place; nil: too few sensors
	lacks  []string

	sets        map[string]*gateSet
	gatesBehind map[string][]string `checkpoint:"-"` // by selector
	cal         *calibration

	open     *dayData // the day that goes on
	lastEnd  time.Duration
	lastBoot uint32
	lastAt   time.Time
	gathered []*dayData // of the baseline in the making
	asked    int        // of the baseline by an entry: see ask
	earlier  int        // runs of the open day that came before that entry
	epochs   []*epoch   // every baseline that there has been, by version
	stood    []int      // versions in the order in which they began to hold

	days     []*dayData         // since the baseline, at most window of them with their runs
	summary  []Day              // every day, for good
	before   detect.Information // baseline and days that have left the window
	segment  int                // number of days already told apart by the last change: scans begin there
	changes  []*change
	level    leakLevel // of the total new leakage
	scatter  scatter
	hoods    hoods     // from use to use within a day
	hoodDays hoods     // from day to day
	chips    []float64 // by machine: see hearChips
	baseInfo detect.Information
	seen     []bool // by zone: the baseline could have seen a leak there

	filter     filterState
	short      map[string]*shortAir
	dust       map[string]*dustRun // by run
	faults     faultBook
	distrusted map[string]bool // channels left out of the estimate: their taps are plugged
	refused    map[string]bool // and these: their zeros jumped

	expected        expectations `checkpoint:"-"` // by gate set, state and air
	opens           []opening    `checkpoint:"-"` // by machine; nil: not read yet
	unseen          *unseen      // nil: the gates of every run so far were known, or there is no baseline yet
	plain           *Estimator   // of the filter alone; nil: nothing tells it
	plainUsed       bool         // some gates were not known before there was a baseline
	perhaps         perhaps      // a gate stands open that is told shut
	toldFilter      toldFilter   // by the runs that read as their gates are told
	lull            lull         // what the fan has lost for a part of a day
	guessed, unsure int          // runs of the open day whose gates were not known: told surely, and not

	entries   []journal.Entry
	findings  []finding.Finding
	next      nextState
	unadvised bool // see Unadvised
	checks    checkBook
	hunt      huntState
}

// window is how many days keep their runs and are scanned for an onset.
const window = 60

// New returns an estimator that has seen nothing.
func New(s *shop.Shop, c *shop.Collector) (*Estimator, error) {
	e := &Estimator{
		site:        s.Site,
		collector:   c,
		reference:   c.Alarms.ReferenceSuction,
		sets:        map[string]*gateSet{},
		gatesBehind: gatesBehindSelectors(c),
		short:       map[string]*shortAir{},
		dust:        map[string]*dustRun{},
		distrusted:  map[string]bool{},
		refused:     map[string]bool{},
		faults:      newFaultBook(),
		expected:    expectations{},
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
	e.hoods, e.hoodDays = newHoods(len(v.cols.machines), hoodPrior, hoodLeast), newHoods(len(v.cols.machines), hoodDayPrior, hoodDayLeast)
	e.chips = make([]float64, len(v.cols.machines))
	e.plain = e.newPlain()
	return nil
}

// ReferenceSuction returns the suction at which leaks are told, in Pa.
func (e *Estimator) ReferenceSuction() float64 { return e.reference }

// Days returns what is known of each day, oldest first.
func (e *Estimator) Days() []Day { return append([]Day(nil), e.summary...) }

// Findings returns all findings, oldest first.
func (e *Estimator) Findings() []finding.Finding {
	if e.plainUsed {
		return e.withPlain()
	}
	return e.findings
}

// Lacks returns what cannot be told, and what would tell it.
func (e *Estimator) Lacks() []string {
	return append(append([]string(nil), e.lacks...), e.gateLacks()...)
}

// dayGap is how long the fan must rest for a new day of sessions to begin, and dayMost how long one lasts at most, where the
// fan never rests so long.
const (
	dayGap  = 4 * time.Hour
	dayMost = 24 * time.Hour
)

// Run takes one run.
func (e *Estimator) Run(r steady.Run) {
	switch r.Kind {
	case steady.Zero:
		e.faults.zero(e, &r)
		return
	case steady.Contact:
		e.contactRun(&r)
		return
	}
	if e.open != nil && e.isNewDay(&r) {
		e.endDay()
	}
	if e.open == nil {
		e.open = &dayData{parts: 1, first: moment{r.Boot, r.Start, r.At}}
		if !r.At.IsZero() {
			e.open.label = r.At.In(e.site.Location).Format("2006-01-02")
		}
	}
	newDay := e.open.size() == 0
	e.lastEnd, e.lastBoot = r.End, r.Boot
	if !r.At.IsZero() {
		e.lastAt = r.At
	}
	d := e.open
	d.fanHours += r.FanHours
	e.hunt.run(&r)
	e.plainRun(&r)
	if r.Kind == steady.Unknown {
		var sure bool
		if r, sure = e.nameRun(r); !sure {
			e.breathe(&r)
			return
		}
	}
	if len(r.Unknown) == 0 { // the turbulence of another set would pass for a plugged tap
		e.faults.noise(e, &r)
	}
	e.faults.silence(e, &r)
	if r.Kind == steady.Closed {
		d.closed++
	}
	e.breathe(&r)
	if e.viewer == nil {
		e.simpleRun(d, &r)
		return
	}
	run := r
	set := e.setOf(&run)
	e.checks.note(&run, set, newDay)
	e.follow(&run, set)
	o, ok := e.observe(&run, set)
	if !ok {
		return
	}
	if e.faults.pulse(e, &o); len(o.have) == 0 || e.leftOpen(&o) {
		return
	}
	e.hearChips(&o)
	o.at = 0
	if len(d.obs) > 0 {
		o.at = d.obs[len(d.obs)-1].at + r.FanHours
	}
	d.obs = append(d.obs, o)
	switch {
	case e.cal == nil:
	case r.Kind == steady.Closed && len(d.obs) >= 4, e.hunt.on && r.End-r.Start >= leastTest && len(d.obs) >= 2:
		e.provisional()
	}
}

// isNewDay tells whether a run begins a new day of fan sessions.
func (e *Estimator) isNewDay(r *steady.Run) bool {
	last := moment{e.lastBoot, e.lastEnd, e.lastAt}
	return last.until(r) >= dayGap || e.open.first.until(r) >= dayMost
}

// moment is a time of which the monotonic one orders within a boot and the civil one, if it is known, from boot to boot.
type moment struct {
	boot uint32
	mono time.Duration
	at   time.Time
}

// until returns how long after a moment a run begins, 0 where nothing tells. From boot to boot it is told by the run's end.
func (m moment) until(r *steady.Run) time.Duration {
	switch {
	case r.Boot == m.boot:
		return r.Start - m.mono
	case r.At.IsZero() || m.at.IsZero():
		return 0
	}
	return r.At.Sub(m.at)
}

// setOf returns the gate set of a run, the same one for the same gates.
func (e *Estimator) setOf(r *steady.Run) *gateSet {
	g := e.newGateSet(r)
	if have := e.sets[g.key]; have != nil {
		return have
	}
	if e.viewer != nil {
		g.machines = e.drawing(&g)
	}
	e.sets[g.key] = &g
	return &g
}

// Flush ends the open day.
func (e *Estimator) Flush() {
	if e.open != nil {
		e.endDay()
	}
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

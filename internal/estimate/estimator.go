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

	cols    columns   `checkpoint:"-"`
	viewer  *viewer   `checkpoint:"-"` // nil: no drawing
	lump    *lump     // in its place; nil: too few sensors, or no fan curve
	curve   *ownCurve // in its place; nil: too few sensors
	undrawn bool      `checkpoint:"-"` // its ducts are assumed
	lacks   []string

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
	stirs    hoods     // from run to run of one use
	creep    creep     // from week to week
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
	plain           *Estimator   // of the filter and the leakage alone; nil: nothing tells them
	plainUsed       bool         // some gates were not known before there was a baseline
	telling         telling      // what is told of the gates
	gone            float64      // how probably a known leak was there no more in the last run
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
		telling:     newTelling(),
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
		as := assumed(e.collector, e.lump)
		if as == nil {
			return nil
		}
		e.collector, e.lump, e.undrawn = as, nil, true
	}
	m, err := duct.New(e.collector)
	if err != nil {
		return fmt.Errorf("the drawing cannot be solved: %w", err)
	}
	v := newViewer(e.collector, m)
	if v.otherwise = asDrawn; e.undrawn {
		v.otherwise = asAssumed
	}
	if len(v.cols.channels) == 0 {
		return nil
	}
	e.viewer, e.cols = v, v.cols
	e.hoods, e.hoodDays = newHoods(len(v.cols.machines), hoodPrior, hoodLeast), newHoods(len(v.cols.machines), hoodDayPrior, hoodDayLeast)
	e.stirs, e.creep = newStirs(len(v.cols.machines)), newCreep(len(v.cols.machines))
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

// sortedKeys returns the keys of a map in order: sums and findings never depend on the order of a map.
func sortedKeys[T any](m map[string]T) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

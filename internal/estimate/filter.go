package estimate

import (
	"math"
	"time"
)

// filterState follows the filter's resistance through loadings and cleanings.
type filterState struct {
	points []filterPoint // since the last cleaning
	floors []floor       // what each cleaning left
	slopes []float64     // loading per fan hour of past cycles
	hours  float64       // fan hours in all
	days   []workday     // the last days, for how much the fan runs
	baseSE float64       // standard error of the baseline's log resistance
	usual  Value         // loading per fan hour while it loads much faster than that; zero: it does not
}

// filterPoint is the resistance at one moment, over the shop file's clean value.
type filterPoint struct {
	day   int // among all days
	part  int
	hours float64   // fan hours in all
	from  time.Time // when the first of its runs began
	at    time.Time // when the last one ended
	log   Value
	humid float64 // relative humidity of the room over its runs; NaN: not measured
}

// floor is what one cleaning left behind.
type floor struct {
	at     time.Time
	before float64 // resistance ratio just before
	after  float64
}

// workday is how long the fan ran on a day.
type workday struct {
	at    time.Time
	hours float64
}

// The steps that count.
const (
	filterBlind   = 0.2  // standard error of a log resistance that says nothing
	cleaningDrop  = 0.03 // of the log resistance: less is noise or weather
	cleaningSigma = 4.0
	lostBelow     = 0.82 // of the lowest floor: a cleaning does not do that, a tear does
	lostUnknown   = 0.65 // of the shop file's clean value, where no cleaning has been seen yet
	partOfIt      = 0.2  // a fall by less, to more than aboveFloor times what cleanings leave, is none
	aboveFloor    = 1.15
	notLoaded     = 0.8 // of where the last one came, or of the limit: a filter that is not due
)

// expect returns where the resistance is likely to be on a day.
func (f *filterState) expect(e *Estimator, d *dayData) float64 {
	if n := len(f.points); n > 0 {
		return f.points[n-1].log.V
	}
	return e.cal.logFilter
}

// calibrateFilter sets the baseline's resistance from its days.
func (e *Estimator) calibrateFilter() {
	var sw, sx float64
	for _, d := range e.gathered {
		for _, v := range d.filter {
			if v.SE > 0 {
				w := 1 / (v.SE * v.SE)
				sw += w
				sx += w * v.V
			}
		}
	}
	if sw > 0 {
		e.cal.logFilter = sx / sw
		e.filter.baseSE = math.Sqrt(1 / sw)
	}
}

// pooled returns the weighted mean of values, with the scatter between them where it is larger than they claim.
func pooled(v []Value) Value {
	var sw, sx float64
	for _, x := range v {
		if x.SE > 0 && !math.IsNaN(x.V) {
			w := 1 / (x.SE * x.SE)
			sw += w
			sx += w * x.V
		}
	}
	if sw == 0 {
		return Value{V: math.NaN()}
	}
	mean := sx / sw
	chi, n := 0.0, 0.0
	for _, x := range v {
		if x.SE > 0 && !math.IsNaN(x.V) {
			chi += (x.V - mean) * (x.V - mean) / (x.SE * x.SE)
			n++
		}
	}
	scale := 1.0
	if n > 2 {
		scale = max(1, chi/(n-1))
	}
	return Value{V: mean, SE: math.Sqrt(scale / sw)}
}

// filterDay takes a day's resistance into the record, and tells a cleaning or a loss.
func (e *Estimator) filterDay(d *dayData) {
	f := &e.filter
	for p, v := range d.filter {
		if v.SE > filterBlind || e.faint() {
			continue // its drop was not read, or at a fan of which no law is known: nothing is known
		}
		hours, from, at := partSpan(d, p)
		pt := filterPoint{day: d.at, part: p, hours: f.hours + hours, from: from, at: at, log: v, humid: e.humidIn(d, p)}
		if n := len(f.points); n > 0 && e.cal != nil {
			e.compare(f.points[n-1], pt)
		}
		f.points = append(f.points, pt)
		if len(f.points) > 400 {
			f.points = f.points[1:]
		}
	}
	e.fanRan(d)
	e.watchRecovery()
	e.watchLoading()
}

// fanRan counts a day's hours of the fan, in which dust came whether the filter was read or not.
func (e *Estimator) fanRan(d *dayData) {
	f := &e.filter
	f.hours += d.fanHours
	at := e.lastAt
	if n := len(d.obs); n > 0 {
		at = d.obs[n-1].run.At
	}
	if at.IsZero() {
		return
	}
	f.days = append(f.days, workday{at: at, hours: d.fanHours})
	if len(f.days) > 60 {
		f.days = f.days[1:]
	}
}

// refreshFilter takes the resistance of days that were fitted again into the record.
func (e *Estimator) refreshFilter() {
	for i := range e.filter.points {
		p := &e.filter.points[i]
		if k := e.indexOf(p.day); k >= 0 && p.part < len(e.days[k].filter) {
			p.log = e.days[k].filter[p.part]
		}
	}
}

// partSpan returns the fan hours of the middle of a part of a day, and in civil time where its first run began and its last
// one ended.
func partSpan(d *dayData, part int) (hours float64, from, to time.Time) {
	n := 0.0
	for i := range d.obs {
		if d.obs[i].part != part {
			continue
		}
		r := d.obs[i].run
		if n == 0 && !r.At.IsZero() {
			from = r.At.Add(r.Start - r.End)
		}
		hours += d.obs[i].at
		n++
		to = r.At
	}
	return hours / max(n, 1), from, to
}

// ratio turns a log resistance into a ratio to the baseline.
func (e *Estimator) ratio(v Value) Value {
	r := math.Exp(v.V - e.cal.logFilter)
	return Value{V: r, SE: r * math.Hypot(math.Hypot(v.SE, e.filter.baseSE), e.viscosityError())}
}

package estimate

import (
	"fmt"
	"math"
	"time"

	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/steady"
)

// filterState follows the filter's resistance through loadings and cleanings.
type filterState struct {
	points  []filterPoint // since the last cleaning
	floors  []floor       // what each cleaning left
	slopes  []float64     // loading per fan hour of past cycles
	hours   float64       // fan hours in all
	days    []workday     // the last days, for how much the fan runs
	version int           // of the baseline before this one
	baseSE  float64       // standard error of the baseline's log resistance
}

// filterPoint is the resistance at one moment, over the shop file's clean value.
type filterPoint struct {
	day   int // among all days
	part  int
	hours float64 // fan hours in all
	at    time.Time
	log   Value
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
	cleaningDrop  = 0.03 // of the log resistance: less is noise or weather
	cleaningSigma = 4.0
	lostBelow     = 0.82 // of the lowest floor: a cleaning does not do that, a tear does
	lostUnknown   = 0.65 // of the shop file's clean value, where no cleaning has been seen yet
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

// splitAtCleanings divides a day where the resistance falls between two runs: somebody cleaned the filter.
func (e *Estimator) splitAtCleanings(d *dayData) {
	d.parts = 1
	for i := range d.obs {
		d.obs[i].part = 0
	}
	rough := e.roughFilter(d)
	e.splitRange(d, rough, 0, len(d.obs), 3)
	part, last := 0, 0
	for i := range d.obs {
		if d.obs[i].part != last {
			part++
			last = d.obs[i].part
		}
		d.obs[i].part = part
	}
	d.parts = part + 1
}

// What makes a day one in whose middle something changed.
const (
	oddDay      = 2.0  // its misfit over what days of this shop have
	oddGain     = 30.0 // by how much two parts must fit better than the whole, in chi-square
	leastInPart = 4    // runs
)

// cutAtChange keeps one part of a day in whose middle something changed at once, such as a hose that came off: the part
// after it, if it has enough runs. A mean of two states fits neither, and would pass for something else.
func (e *Estimator) cutAtChange(d *dayData, x0 []float64, from float64) {
	usual := e.scatter.within / max(e.scatter.nWithin, 1)
	if e.scatter.nWithin < 3 {
		usual = 1
	}
	n := len(d.obs)
	if math.IsNaN(d.innovation) || d.innovation < oddDay*max(usual, 0.3) || n < 2*leastInPart {
		return
	}
	best, at := d.misfit-oddGain, -1
	var kept *dayData
	for k := leastInPart; k <= n-leastInPart; k++ {
		before, after := e.partOf(d, 0, k), e.partOf(d, k, n)
		if !e.fitDay(before, x0, from) || !e.fitDay(after, x0, from) {
			continue
		}
		if sum := before.misfit + after.misfit; sum < best {
			best, at, kept = sum, k, after
		}
	}
	if at >= 0 {
		*d = *kept
	}
}

// partOf returns a copy of a day with some of its runs.
func (e *Estimator) partOf(d *dayData, from, to int) *dayData {
	c := *d
	c.obs = append([]observation(nil), d.obs[from:to]...)
	c.filter = nil
	e.splitAtCleanings(&c)
	return &c
}

// roughFilter returns each run's own view of the log resistance beyond what is expected, everything else as known.
func (e *Estimator) roughFilter(d *dayData) []Value {
	out := make([]Value, len(d.obs))
	x0 := e.known(d.at)
	guess := e.filter.expect(e, d)
	for pass := range 2 {
		for i := range d.obs {
			g := guess
			if pass == 1 && out[i].SE > 0 {
				g = guess + out[i].V
			}
			o := &d.obs[i]
			out[i] = Value{V: math.NaN()}
			if o.set.kind == steady.Closed {
				continue // a new leak there would look like a filter that was cleaned afterwards
			}
			v, at, atAir, err := e.viewer.at(o.set, &state{logFilter: g, params: x0, globals: e.cal.globals}, o.air)
			if err != nil {
				continue
			}
			bias := append([]float64(nil), e.biasOf(o.set.key)...)
			for c := range bias {
				bias[c] = (1+bias[c])*(1+v.jac[c][e.cols.filter]*(g-at.logFilter))*(1+x0[e.cols.gain0+c]) - 1
			}
			lin, ok := e.equations(o, v, atAir, bias, e.cal.fresh, e.biasVariance(o.set.key))
			if !ok {
				continue
			}
			var xx, xy float64
			for r := range lin.y {
				x := lin.x[r][e.cols.filter]
				xx += x * x
				xy += x * lin.y[r]
			}
			if xx > 0 {
				out[i] = Value{V: g - guess + xy/xx, SE: math.Sqrt(1/xx + dayError*dayError)}
			}
		}
	}
	return out
}

// splitRange finds the best place to divide runs from..to, marks it, and looks on both sides.
func (e *Estimator) splitRange(d *dayData, rough []Value, from, to, left int) {
	if left == 0 || to-from < 2 {
		return
	}
	best, at := 0.0, -1
	for k := from + 1; k < to; k++ {
		a, b := pooled(rough[from:k]), pooled(rough[k:to])
		if !(a.SE > 0 && b.SE > 0) {
			continue
		}
		drop := a.V - b.V
		z := drop / math.Hypot(a.SE, b.SE)
		if drop > 2*cleaningDrop && z > 6 && z > best {
			best, at = z, k
		}
	}
	if at < 0 {
		return
	}
	mark := 1 << left
	for i := at; i < to; i++ {
		d.obs[i].part += mark
	}
	e.splitRange(d, rough, from, at, left-1)
	e.splitRange(d, rough, at, to, left-1)
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
		hours, at := partMiddle(d, p)
		pt := filterPoint{day: d.at, part: p, hours: f.hours + hours, at: at, log: v}
		if n := len(f.points); n > 0 && e.cal != nil {
			e.compare(f.points[n-1], pt)
		}
		f.points = append(f.points, pt)
		if len(f.points) > 400 {
			f.points = f.points[1:]
		}
	}
	f.hours += d.fanHours
	if at := d.obs[len(d.obs)-1].run.At; !at.IsZero() {
		f.days = append(f.days, workday{at: at, hours: d.fanHours})
		if len(f.days) > 60 {
			f.days = f.days[1:]
		}
	}
	e.watchRecovery()
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

// partMiddle returns the fan hours and the civil time of the middle of a part of a day.
func partMiddle(d *dayData, part int) (float64, time.Time) {
	var hours, n float64
	var at time.Time
	for i := range d.obs {
		if d.obs[i].part == part {
			hours += d.obs[i].at
			n++
			at = d.obs[i].run.At
		}
	}
	return hours / max(n, 1), at
}

// compare tells a fall of the resistance from one point to the next.
func (e *Estimator) compare(was, is filterPoint) {
	drop := was.log.V - is.log.V
	se := math.Sqrt(was.log.SE*was.log.SE + is.log.SE*is.log.SE + 0.005*0.005)
	if drop < cleaningDrop || drop < cleaningSigma*se {
		return
	}
	before, after := math.Exp(was.log.V), math.Exp(is.log.V)
	told := e.entryNear(is.at, journal.FilterCleaned, journal.FilterReplaced)
	if e.isLost(after, told) {
		e.tellLost(was, is, before, after)
		return
	}
	if len(e.filter.points) >= 3 {
		if k := e.loading(); k.V > 0 {
			e.filter.slopes = append(e.filter.slopes, k.V)
		}
	}
	e.filter.points = e.filter.points[:0]
	e.filter.floors = append(e.filter.floors, floor{at: is.at, before: before, after: after})
	e.tellCleaned(is, before, after, se, told)
	e.endFindings(finding.FilterDue, is.at)
}

// isLost tells a fall that no cleaning explains: to well below everything that cleanings have left so far.
func (e *Estimator) isLost(after float64, told bool) bool {
	if told {
		return false
	}
	if len(e.filter.floors) == 0 {
		return after < lostUnknown && (e.viewer != nil || e.lump != nil) // else the clean value is not known either
	}
	low := math.Inf(1)
	for _, f := range e.filter.floors {
		low = min(low, f.after)
	}
	return after < lostBelow*low
}

// entryNear tells whether the journal has one of the kinds within two days of a time.
func (e *Estimator) entryNear(at time.Time, kinds ...journal.Kind) bool {
	for _, j := range e.entries {
		if d := at.Sub(j.Time); d > 48*time.Hour || d < -48*time.Hour {
			continue
		}
		for _, k := range kinds {
			if j.Kind == k && (j.Subject == "" || e.owns(j.Subject)) {
				return true
			}
		}
	}
	return false
}

// ratio turns a log resistance into a ratio to the baseline.
func (e *Estimator) ratio(v Value) Value {
	r := math.Exp(v.V - e.cal.logFilter)
	return Value{V: r, SE: r * math.Hypot(v.SE, e.filter.baseSE)}
}

// tellCleaned notes a cleaning.
func (e *Estimator) tellCleaned(is filterPoint, before, after, se float64, told bool) {
	base := math.Exp(e.cal.logFilter)
	part := 1 - after/before
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.FilterCleaned, Priority: finding.Journal,
		Raised: is.at, Onset: is.at, OnsetLow: is.at, OnsetHigh: is.at, Ended: is.at,
		Size: part, SizeLow: part - 1.645*se, SizeHigh: part + 1.645*se, SizeUnit: "1", Confidence: confidence,
		Evidence: "The filter's resistance, corrected for flow and the air's viscosity, fell between two runs.",
	}
	f.ID = e.newID(f.Kind, "", is.at)
	by := "The logbook has no entry for it."
	if told {
		by = "The logbook says so too."
	}
	f.Text = fmt.Sprintf("The filter was cleaned: its resistance fell by %.0f %%, from %.2f to %.2f of the baseline's. %s",
		100*part, before/base, after/base, by)
	e.findings = append(e.findings, f)
}

// tellLost raises the alarm of a filter that lost resistance without being cleaned.
func (e *Estimator) tellLost(was, is filterPoint, before, after float64) {
	e.filter.points = e.filter.points[:0]
	part := 1 - after/before
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.FilterLostResistance, Priority: finding.ActToday,
		Raised: is.at, Onset: is.at, OnsetLow: was.at, OnsetHigh: is.at,
		Size: part, SizeLow: part - 3*is.log.SE, SizeHigh: part + 3*is.log.SE, SizeUnit: "1", Confidence: confidence,
		ConfusableWith: []string{"a new filter that the logbook does not have", "a hole in the dirty housing", "a filter sensor whose tube came off"},
		Action: "Look for dust on the clean side and in the return air. If there is any, stop the machines. " + caution +
			"Wear a respirator (APF 20 or more) at the filter. If the filter was replaced, enter it in the logbook.",
		Evidence: "The resistance fell to well below what any cleaning has left before.",
	}
	f.ID = e.newID(f.Kind, "", is.at)
	f.Text = fmt.Sprintf("The filter lost %.0f %% of its resistance without a cleaning that would explain it: it may be torn, badly seated or bypassed, and dust may come back into the room.", 100*part)
	e.findings = append(e.findings, f)
}

// watchRecovery ends a loss that the logbook explains afterwards, and tells when cleanings recover less and less.
func (e *Estimator) watchRecovery() {
	for i := range e.findings {
		f := &e.findings[i]
		if f.Kind == finding.FilterLostResistance && f.Active() && e.entryNear(f.Onset, journal.FilterReplaced, journal.FilterCleaned) {
			f.Ended = e.lastAt
			f.Text += " The logbook has since explained it."
		}
	}
	floors := e.filter.floors
	if len(floors) < 3 || e.hasActive(finding.FilterNotRecovering) {
		return
	}
	low := math.Inf(1)
	for _, fl := range floors[:len(floors)-2] {
		low = min(low, fl.after)
	}
	last := min(floors[len(floors)-1].after, floors[len(floors)-2].after)
	if last < 1.35*low {
		return
	}
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.FilterNotRecovering, Priority: finding.Plan,
		Raised: e.lastAt, Onset: floors[len(floors)-2].at, OnsetLow: floors[len(floors)-3].at, OnsetHigh: floors[len(floors)-1].at,
		Size: last/low - 1, SizeLow: last/low - 1.05, SizeHigh: last/low - 0.95, SizeUnit: "1", Confidence: confidence,
		ConfusableWith: []string{"damp media", "a cleaning that was cut short"},
		Action:         "Clean it more thoroughly, or plan new filters. " + caution,
		Evidence:       "Two cleanings in a row left more resistance than any before.",
	}
	f.ID = e.newID(f.Kind, "", f.Onset)
	f.Text = fmt.Sprintf("Cleaning no longer recovers the filter: what it leaves behind is %.0f %% above the best of before.", 100*(last/low-1))
	e.findings = append(e.findings, f)
}

// hasActive tells whether a finding of a kind stands.
func (e *Estimator) hasActive(kind finding.Kind) bool {
	for i := range e.findings {
		if e.findings[i].Kind == kind && e.findings[i].Active() {
			return true
		}
	}
	return false
}

// endFindings ends the standing findings of a kind.
func (e *Estimator) endFindings(kind finding.Kind, at time.Time) {
	for i := range e.findings {
		if f := &e.findings[i]; f.Kind == kind && f.Active() {
			f.Ended = at
		}
	}
}

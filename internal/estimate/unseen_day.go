package estimate

import (
	"math"

	"ductward/internal/steady"
	"ductward/internal/whichopen"
)

// filterTrack is the filter's log resistance after each run of a day, whatever was open.
type filterTrack struct {
	runs, sum, errors float64
	low, high         float64
}

// see takes in what is known of the filter after one more run.
func (f *filterTrack) see(t *whichopen.Tracker) {
	x := t.Mean[sharedFilter]
	if f.runs == 0 {
		f.low, f.high = x, x
	}
	f.low, f.high = min(f.low, x), max(f.high, x)
	f.runs++
	f.sum += x
	f.errors += math.Sqrt(t.Cov[sharedFilter][sharedFilter])
}

// trackSpread is how far the filter's log resistance may move within a day whose mean means anything: beyond it, the filter
// was cleaned meanwhile.
const trackSpread = 0.06

// mean returns the day's mean. Its error is as large as that of one run: what makes it is the same all day.
func (f *filterTrack) mean() (Value, bool) {
	if f.runs == 0 || f.high-f.low > trackSpread {
		return Value{}, false
	}
	return Value{V: f.sum / f.runs, SE: f.errors / f.runs}, true
}

// endDay ends the open day, and says of how many of its runs the gates were not known.
func (e *Estimator) endDay() {
	d := e.open
	guessed, unsure := e.guessed, e.unsure
	e.guessed, e.unsure = 0, 0
	e.closeDay()
	e.plainDay()
	n := len(e.summary)
	if n == 0 || guessed+unsure == 0 {
		return
	}
	day := &e.summary[n-1]
	day.Guessed, day.Unsure = guessed, unsure
	u := e.unseen
	if u == nil || e.cal == nil || u.cal != e.cal {
		return
	}
	if v, ok := u.filter.mean(); ok && v.SE <= filterBlind {
		e.trackedFilter(d, day, v)
	}
	u.filter = filterTrack{}
}

// trackedFilter takes the filter's resistance off all runs of a day, where those that are sure say less of it: it hardly
// depends on which gates are open.
func (e *Estimator) trackedFilter(d *dayData, day *Day, log Value) {
	f := &e.filter
	n := len(f.points)
	switch {
	case n > 0 && f.points[n-1].day == len(e.summary)-1:
		if p := &f.points[n-1]; p.part > 0 || p.log.SE <= log.SE {
			return
		}
		f.points[n-1].log = log
	case len(d.obs) > 0: // of a day on which the filter was not read, or that could not be fitted, nothing is told
		return
	default:
		e.addPoint(d, log)
	}
	day.FilterRatio = e.ratio(log)
	day.Due = e.forecast()
	e.tellDue(day.Due)
}

// addPoint takes a day none of whose gate sets is sure into the filter's record.
func (e *Estimator) addPoint(d *dayData, log Value) {
	f := &e.filter
	pt := filterPoint{day: len(e.summary) - 1, hours: f.hours + d.fanHours/2, from: d.first.at, at: e.lastAt, log: log}
	if n := len(f.points); n > 0 {
		e.compare(f.points[n-1], pt)
	}
	f.points = append(f.points, pt)
	f.points = f.points[max(len(f.points)-400, 0):]
	f.hours += d.fanHours
	if !e.lastAt.IsZero() {
		f.days = append(f.days, workday{at: e.lastAt, hours: d.fanHours})
		f.days = f.days[max(len(f.days)-60, 0):]
	}
	e.watchRecovery()
}

// peek names the run that goes on, changing nothing. Where its gates are not sure enough, it returns false with how sure
// the likeliest set is; NaN where none is thought of.
func (e *Estimator) peek(r *steady.Run) (steady.Run, float64, bool) {
	if e.unseen == nil || e.cal == nil || e.unseen.cal != e.cal {
		return *r, math.NaN(), false
	}
	ahead := *e.unseen
	sets, belief, ok := e.judge(&ahead, r)
	if !ok {
		return *r, math.NaN(), false
	}
	g, named := e.guess(r, sets, belief)
	return named, g.Probability, g.Used
}

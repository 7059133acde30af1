package estimate

import (
	"time"

	"ductward/internal/steady"
)

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
	rested := newDay || r.Boot != e.lastBoot || r.Start-e.lastEnd > useGap
	e.lastEnd, e.lastBoot = r.End, r.Boot
	if !r.At.IsZero() {
		e.lastAt = r.At
	}
	d := e.open
	d.fanHours += r.FanHours
	e.hunt.run(&r)
	e.plainRun(&r)
	if e.viewer != nil {
		r = e.hearGates(r)
	}
	if r.Kind == steady.Unknown {
		var sure bool
		if r, sure = e.nameRun(r); !sure {
			e.breathe(&r)
			return
		}
		e.endFoundShut(e.telling.asTold(r.Open), &r)
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
	o.rested = rested
	if e.faults.pulse(e, &o); len(o.have) == 0 {
		return
	}
	if e.leftOpen(&o) {
		e.faults.unheard()
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

// endOf returns the moment at which a run ended.
func endOf(r *steady.Run) moment { return moment{r.Boot, r.End, r.At} }

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

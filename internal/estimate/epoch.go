package estimate

import (
	"time"

	"ductward/internal/detect"
	"ductward/internal/finding"
)

// epoch is one baseline with what has been learnt against it, so that it can hold again. While it stands, the estimator
// has what is in it; the rest is kept when another takes its place.
type epoch struct {
	version Version
	cal     *calibration
	judged  int // days, beside its own

	before, baseInfo detect.Information
	seen             []bool
	changes          []*change
	told             []finding.Finding // active when it was put away, about changes
	baseSE           float64

	lump learnt // of a collector without a drawing
}

// stand makes the calibration that has just been fitted the baseline that holds.
func (e *Estimator) stand() {
	cal := e.cal
	cal.version = len(e.epochs) + 1
	e.epochs = append(e.epochs, &epoch{cal: cal, version: Version{Version: cal.version, From: cal.from, To: cal.to,
		GateSets: len(cal.bias), MisfitRMS: cal.misfit}})
	e.stood = append(e.stood, cal.version)
}

// supersede starts a new baseline: what was found against the old one is ended, and its trend lines break.
func (e *Estimator) supersede() {
	e.gathered = nil
	if e.cal == nil {
		if e.viewer == nil {
			e.days = nil
		}
	} else {
		e.putAway()
	}
	if e.lump != nil {
		e.lump.forget()
	}
}

// putAway ends the baseline that holds and keeps what it knows. What is wrong with a sensor as an instrument is no matter
// of the baseline, and stands.
func (e *Estimator) putAway() {
	ep := e.epochs[e.cal.version-1]
	for _, c := range e.changes {
		if c.profile == detect.Ramp && c.ended < 0 { // how far it grows while nobody looks is not known
			c.ended = len(e.summary)
			c.final = c.value(c.ended - 1)
		}
	}
	if e.viewer != nil { // as when the window moves on: the days go, what they say stays
		for _, d := range e.days {
			e.before.Add(1, e.residual(d))
		}
	}
	ep.before, ep.baseInfo, ep.seen, ep.changes, ep.baseSE = e.before, e.baseInfo, e.seen, e.changes, e.filter.baseSE
	ep.told = e.toldOf(ep.changes)
	if e.lump != nil {
		ep.lump = e.lump.learnt
	}
	e.cal = nil
	e.days, e.changes, e.segment = nil, nil, 0
	e.level = leakLevel{}
	e.filter = filterState{floors: e.filter.floors}
	for i := range e.findings {
		f := &e.findings[i]
		if f.Active() && (f.Priority != finding.Instrument || f.Kind == finding.SensorDisagrees) {
			f.Ended = e.lastAt
		}
	}
}

// toldOf returns the active findings of changes.
func (e *Estimator) toldOf(changes []*change) []finding.Finding {
	var out []finding.Finding
	for _, f := range e.findings {
		for _, c := range changes {
			if f.Active() && f.ID == c.finding {
				out = append(out, f)
			}
		}
	}
	return out
}

// returnTo lets an older baseline hold again: with all that was known against it, as if the days since then had not been
// seen. What was found against it and had not ended is told anew.
func (e *Estimator) returnTo(version int) {
	if e.cal != nil {
		e.putAway()
	}
	ep := e.epochs[version-1]
	e.gathered, e.days, e.segment = nil, nil, 0
	e.cal = ep.cal
	e.before, e.baseInfo, e.seen, e.changes = ep.before, ep.baseInfo, ep.seen, ep.changes
	e.level = leakLevel{}
	e.filter = filterState{floors: e.filter.floors, baseSE: ep.baseSE}
	e.creep.restart() // it was followed against the baseline that stands aside
	if e.viewer != nil {
		clear(e.viewer.spreads) // they are of the calibration before
	}
	for _, k := range sortedKeys(e.sets) {
		e.sets[k].flow = 0 // so is this
	}
	if e.lump != nil {
		e.lump.forget()
		e.lump.learnt = ep.lump
	}
	e.stood = append(e.stood, version)
	for _, f := range ep.told {
		e.tellAgain(f)
	}
}

// tellAgain raises a finding once more, under a name of its own.
func (e *Estimator) tellAgain(f finding.Finding) {
	was := f.ID
	f.Raised, f.Ended = e.lastAt, time.Time{}
	f.ID = e.newID(f.Kind, f.Subject, f.Onset)
	e.findings = append(e.findings, f)
	for _, c := range e.changes {
		if c.finding == was {
			c.finding = f.ID
		}
	}
}

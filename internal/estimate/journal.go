package estimate

import (
	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

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

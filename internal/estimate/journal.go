package estimate

import (
	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

// Entry takes an entry of the journal.
func (e *Estimator) Entry(j journal.Entry) {
	e.entries = append(e.entries, j)
	e.huntEntry(j)
	if j.Kind == journal.Baseline || j.Kind == journal.DuctChanged || j.Kind == journal.SensorChanged {
		if j.Subject == "" || e.owns(j.Subject) {
			e.restart, e.earlier = true, e.open.size()
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

// supersede starts a new baseline: what was found against the old one is ended, and its trend lines break. What is wrong
// with a sensor as an instrument is no matter of the baseline, and stands.
func (e *Estimator) supersede() {
	e.gathered = nil
	if e.lump != nil {
		e.lump.leakBase, e.lump.baseFilter, e.lump.days, e.lump.at = Value{}, nil, nil, nil
	}
	if e.cal == nil {
		if e.viewer == nil {
			e.days = nil
		}
		return
	}
	version := e.cal.version
	e.cal = nil
	e.days, e.changes = nil, nil
	e.level = detect.Level{}
	e.filter = filterState{floors: e.filter.floors, version: version}
	for i := range e.findings {
		f := &e.findings[i]
		if f.Active() && (f.Priority != finding.Instrument || f.Kind == finding.SensorDisagrees) {
			f.Ended = e.lastAt
		}
	}
}

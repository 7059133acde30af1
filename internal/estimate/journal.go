package estimate

import "ductward/internal/journal"

// Entry takes an entry of the journal. What one asks of the baseline is done when the day's work is over.
func (e *Estimator) Entry(j journal.Entry) {
	e.entries = append(e.entries, j)
	if e.plainUsed {
		e.plain.Entry(j)
	}
	e.huntEntry(j)
	if j.Subject != "" && !e.owns(j.Subject) {
		return
	}
	switch j.Kind {
	case journal.Baseline, journal.DuctChanged, journal.SensorChanged:
		e.ask(newBaseline)
	case journal.BaselineAccepted:
		e.acceptVersion(j)
	case journal.BaselineRejected:
		e.rejectVersion(j)
	case journal.BaselineRestored:
		e.restoreVersion(j.Version())
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

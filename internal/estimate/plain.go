package estimate

import (
	"math"
	"slices"

	"ductward/internal/finding"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// plain follows the filter of a collector with a drawing, and its leakage, for as long as there is no baseline to tell its gates by: as
// if it had no drawing. Whatever is open, two readings and the fan's curve tell the filter's resistance, and it tells the air that still
// comes with every gate shut.

// newPlain returns such an estimator that has seen nothing; nil where the sensors are too few, or the fan's
// curve is not known.
func (e *Estimator) newPlain() *Estimator {
	c := *e.collector
	c.Sensors = atCollector(e.collector)
	c.Network, c.Gates, c.Selectors, c.Machines = nil, nil, nil, nil
	p, err := New(&shop.Shop{Site: e.site}, &c)
	if err != nil || p.lump == nil {
		return nil
	}
	return p
}

// atCollector lists the sensors of a collector with a drawing as one without it has them: those in the run that ends there come first,
// each with the duct's diameter.
func atCollector(c *shop.Collector) []*shop.Sensor {
	var near, other []*shop.Sensor
	for _, s := range c.Sensors {
		own := *s
		r := c.Run(s.Run)
		if r != nil {
			own.Diameter = r.Diameter
		}
		if r != nil && r.To.Kind != shop.EndCollector {
			other = append(other, &own)
		} else {
			near = append(near, &own)
		}
	}
	return append(near, other...)
}

// beginPlain begins to use it, with the first run whose gates are not known.
func (e *Estimator) beginPlain() {
	if e.plainUsed || e.plain == nil || e.cal != nil {
		return
	}
	for _, j := range e.entries {
		e.plain.Entry(j)
	}
	e.plainUsed = true
}

// plainRun hands it a run.
func (e *Estimator) plainRun(r *steady.Run) {
	if !e.plainUsed || e.cal != nil {
		return
	}
	as := *r
	if as.Open, as.Ports = nil, nil; as.Kind != steady.Closed {
		as.Kind = steady.Unknown
	}
	e.plain.Run(as)
}

// plainDay ends its day, and puts what it says of it where nothing else does. Once there is a baseline, it rests.
func (e *Estimator) plainDay() {
	p := e.plain
	if !e.plainUsed {
		return
	}
	if e.cal != nil {
		for _, kind := range []finding.Kind{finding.FilterDue, finding.NewLeak, finding.GrowingLeak} {
			p.endFindings(kind, e.lastAt)
		}
		return
	}
	if p.open == nil {
		return
	}
	p.endDay()
	told, day := p.summary[len(p.summary)-1], &e.summary[len(e.summary)-1]
	if math.IsNaN(day.FilterRatio.V) {
		day.Runs, day.FilterRatio, day.Flow, day.Due = told.Runs, told.FilterRatio, told.Flow, told.Due
		day.Leakage, day.ClosedChecks = told.Leakage, told.ClosedChecks
	}
}

// withPlain lists the findings with what it has found of the filter and of leaks among them, oldest first.
func (e *Estimator) withPlain() []finding.Finding {
	out := append([]finding.Finding(nil), e.findings...)
	for _, f := range e.plain.findings {
		switch f.Kind {
		case finding.FilterDue, finding.FilterCleaned, finding.FilterNotRecovering, finding.FilterLostResistance,
			finding.NewLeak, finding.GrowingLeak:
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b finding.Finding) int { return a.Raised.Compare(b.Raised) })
	return out
}

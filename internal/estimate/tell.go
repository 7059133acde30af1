package estimate

import (
	"fmt"
	"math"
	"time"

	"ductward/internal/detect"
	"ductward/internal/finding"
)

// confidence is that of every interval that a finding carries.
const confidence = 0.9

// holeDischarge is the discharge coefficient of the equivalent open area: that of a sharp edge (ACGIH Industrial
// Ventilation: a sharp-edged orifice loses 1.78 velocity pressures, so 1/√2.78 = 0.6).
const holeDischarge = 0.6

// OpenArea returns the equivalent open area in m² of a leak (m³/s) at a suction (Pa) and density (kg/m³).
func OpenArea(flow, suction, density float64) float64 {
	return flow / (holeDischarge * math.Sqrt(2*suction/density))
}

// tell raises the finding of a change.
func (e *Estimator) tell(c *change) {
	kind := e.kindOf(c)
	f := finding.Finding{
		Collector: e.collector.Name,
		Kind:      kind,
		Subject:   e.subjectOf(c),
		Raised:    e.lastAt,
		Priority:  e.priorityOf(c, kind),
	}
	f.ID = e.newID(kind, f.Subject, e.dayTime(c.onset))
	c.finding = f.ID
	e.fill(&f, c)
	e.findings = append(e.findings, f)
}

// newID names a finding by what it is and when it began, so that a rebuild gives the same names.
func (e *Estimator) newID(kind finding.Kind, subject string, onset time.Time) string {
	if !onset.IsZero() {
		onset = onset.In(e.site.Location)
	}
	return finding.NewID(e.findings, e.collector.Name, string(kind), subject, onset)
}

// retell brings the finding of a change up to date.
func (e *Estimator) retell(c *change) {
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && f.Active() {
			f.Kind = e.kindOf(c)
			f.Subject = e.subjectOf(c)
			f.Priority = e.priorityOf(c, f.Kind)
			e.fill(f, c)
		}
	}
}

// tellMended ends the finding of a leak that became less, and notes it.
func (e *Estimator) tellMended(c *change, s *detect.Score) {
	day := e.dayTime(e.days[s.Onset].at)
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && f.Active() && c.final == 0 {
			f.Ended = day
		}
	}
	sd := math.Sqrt(s.Variance)
	q := detect.Quantile(confidence)
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.LeakMended, Subject: e.subjectOf(c), Priority: finding.Journal,
		Raised: e.lastAt, Onset: day, OnsetLow: day, OnsetHigh: day, Ended: day,
		Size: -s.Size, SizeLow: -s.Size - q*sd, SizeHigh: -s.Size + q*sd, SizeUnit: "m3/s", Confidence: confidence,
	}
	f.ID = e.newID(f.Kind, f.Subject, day)
	f.Text = fmt.Sprintf("Leakage fell by %s at %s; %s of the leak found before is left.",
		flowWords(-s.Size, sd), e.suctionWords(), flowWords(c.final, sd))
	e.findings = append(e.findings, f)
}

// tellUndone ends the finding of another change that went back, or says what is left of it.
func (e *Estimator) tellUndone(c *change, s *detect.Score) {
	if c.final != 0 {
		c.mean, c.sd = c.final, math.Sqrt(s.Variance)
		e.retell(c)
		return
	}
	day := e.dayTime(e.days[s.Onset].at)
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && f.Active() {
			f.Ended = day
			f.Text += fmt.Sprintf(" Since %s it is as at the baseline again.", e.dateWords(day))
		}
	}
}

// fill writes size, time, place and words of a change into its finding.
func (e *Estimator) fill(f *finding.Finding, c *change) {
	q := detect.Quantile(confidence)
	f.Confidence = confidence
	f.Size, f.SizeLow, f.SizeHigh = c.mean, c.mean-q*c.sd, c.mean+q*c.sd
	f.SizeUnit = "m3/s"
	if e.cols.isFlow(c.col) {
		f.SizeLow = max(f.SizeLow, 0)
	} else {
		f.SizeUnit = "1" // the log of a factor
		f.Size, f.SizeLow, f.SizeHigh = math.Exp(f.Size), math.Exp(f.SizeLow), math.Exp(f.SizeHigh)
	}
	f.Onset, f.OnsetLow, f.OnsetHigh = e.dayTime(min(c.onset, c.told)), e.dayTime(min(c.low, c.told)), e.dayTime(min(c.high, c.told))
	f.Where = e.places(c)
	if f.Kind == finding.OpenSideChanged {
		e.withOpenSide(f)
	}
	e.advise(f, c)
	e.words(f, c)
}

// priorityOf tells what a change asks of a person.
func (e *Estimator) priorityOf(c *change, kind finding.Kind) finding.Priority {
	switch kind {
	case finding.SensorDisagrees:
		return finding.Instrument
	case finding.FilterLostResistance:
		return finding.ActToday
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks:
		if c.mean < e.collector.Alarms.LeakToTell {
			return finding.Journal
		}
		if flow := e.typicalFlow(); c.profile == detect.Step && c.mean > 0.15*flow {
			return finding.ActToday
		}
	case finding.RestrictionAfterTap:
		if c.mean > -leastWheel { // more pressure, or so little less that it matters to nobody after all
			return finding.Journal
		}
		if c.mean < math.Log(halfPressure) { // some machine is surely without its air
			return finding.ActToday
		}
	case finding.FanSlow:
		if 2*c.mean < math.Log(halfPressure) {
			return finding.ActToday
		}
		if c.mean > 0 {
			return finding.Journal // a fan that turns faster asks for nothing
		}
	case finding.DropBlocked, finding.OpenSideChanged:
		if math.Abs(c.mean) < slightBlock {
			return finding.Journal
		}
		if c.mean > math.Log(2) {
			return finding.ActToday
		}
	}
	return finding.Plan
}

// typicalFlow returns the mean flow of the last day that has one, in m³/s; +Inf where none is known.
func (e *Estimator) typicalFlow() float64 {
	for i := len(e.summary) - 1; i >= 0; i-- {
		if v := e.summary[i].Flow.V; v > 0 {
			return v
		}
	}
	return math.Inf(1)
}

// dayTime returns the civil time of the first run of a day among all days; zero where it is not known.
func (e *Estimator) dayTime(at int) time.Time {
	for _, d := range e.days {
		if d.at == at && len(d.obs) > 0 {
			return d.obs[0].run.At
		}
	}
	if at >= 0 && at < len(e.summary) {
		if t, err := time.ParseInLocation("2006-01-02", e.summary[at].Date, e.site.Location); err == nil {
			return t
		}
	}
	return time.Time{}
}

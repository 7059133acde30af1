package estimate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

// compare tells a fall of the resistance from one point to the next.
func (e *Estimator) compare(was, is filterPoint) {
	drop := was.log.V - is.log.V
	se := math.Sqrt(was.log.SE*was.log.SE + is.log.SE*is.log.SE + 0.005*0.005)
	if drop < cleaningDrop || drop < cleaningSigma*se {
		return
	}
	before, after := math.Exp(was.log.V), math.Exp(is.log.V)
	told := e.entryAbout(was.at, is.at, journal.FilterCleaned, journal.FilterReplaced)
	if e.isLost(after, told) {
		e.tellLost(was, is, before, after)
		return
	}
	if e.isPart(before, after, told) {
		e.filter.points = e.filter.points[:0]
		e.tellPart(was, is, before, after, se)
		return
	}
	if len(e.filter.points) >= 3 && e.filter.usual.V == 0 { // a full bin says nothing of the next cycle
		if k := e.loading(); k.V > 0 {
			e.filter.slopes = append(e.filter.slopes, k.V)
		}
	}
	e.filter.points = e.filter.points[:0]
	e.filter.floors = append(e.filter.floors, floor{at: is.at, before: before, after: after})
	e.tellCleaned(was, is, before, after, se, told)
	e.endFindings(finding.FilterDue, is.at)
}

// isPart tells a fall that is less than a cleaning, leaves more than one does and comes before one is due: a part of the filter
// was cleaned, or a small tear or a hole in its housing lets some of the air pass. A loaded filter that falls by so little was
// cleaned, and is blinding.
func (e *Estimator) isPart(before, after float64, told bool) bool {
	if told || e.viewer == nil && e.lump == nil || 1-after/before > partOfIt {
		return false
	}
	low, loaded := 1.0, e.ownLimit(before)
	if n := len(e.filter.floors); n > 0 {
		low, loaded = e.lowestFloor(), e.filter.floors[n-1].before
	}
	return after > aboveFloor*low && before < notLoaded*loaded
}

// lowestFloor returns the least that a cleaning has left; +Inf where there was none.
func (e *Estimator) lowestFloor() float64 {
	low := math.Inf(1)
	for _, f := range e.filter.floors {
		low = min(low, f.after)
	}
	return low
}

// isLost tells a fall that no cleaning explains: to well below everything that cleanings have left so far.
func (e *Estimator) isLost(after float64, told bool) bool {
	if told {
		return false
	}
	if len(e.filter.floors) == 0 {
		return after < lostUnknown && (e.viewer != nil || e.lump != nil) // else the clean value is not known either
	}
	return after < lostBelow*e.lowestFloor()
}

// tellPart notes a fall that is less than a cleaning. No pressure tells what it is.
func (e *Estimator) tellPart(was, is filterPoint, before, after, se float64) {
	part, row := 1-after/before, diagnosis.Of(finding.FilterLostResistance)
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.FilterLostResistance, Priority: finding.Journal,
		Raised: is.at, Onset: is.at, OnsetLow: was.at, OnsetHigh: is.at, Ended: is.at,
		Size: part, SizeLow: part - 1.645*se, SizeHigh: part + 1.645*se, SizeUnit: "1", Confidence: confidence,
		ConfusableWith: row.Others(), Action: row.Action(""),
		Evidence: "The filter's resistance, corrected for flow and the air's viscosity, fell between two runs by less than a cleaning does.",
	}
	f.ID = e.newID(f.Kind, "", is.at)
	f.Text = fmt.Sprintf("The filter lost %.0f %% of its resistance at once, and the logbook has no entry for it. A part of it may have been cleaned; a small tear, or a hole in its housing, shows no more than that.", 100*part)
	e.findings = append(e.findings, f)
}

// entryAbout tells whether the journal has one of the kinds for what happened between two times, or within two days of that:
// the work is done over a weekend or in the holidays, and written down beforehand or when somebody remembers.
func (e *Estimator) entryAbout(from, to time.Time, kinds ...journal.Kind) bool {
	for _, j := range e.entries {
		if from.Sub(j.Time) > 48*time.Hour || j.Time.Sub(to) > 48*time.Hour {
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

// tellCleaned notes a cleaning: between the last run before it and the first one since.
func (e *Estimator) tellCleaned(was, is filterPoint, before, after, se float64, told bool) {
	base := math.Exp(e.cal.logFilter)
	part := 1 - after/before
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.FilterCleaned, Priority: finding.Journal,
		Raised: is.at, Onset: is.from, OnsetLow: was.at, OnsetHigh: is.from, Ended: is.at,
		Size: part, SizeLow: part - 1.645*se, SizeHigh: part + 1.645*se, SizeUnit: "1", Confidence: confidence,
		Evidence: "The filter's resistance, corrected for flow and the air's viscosity, fell between two runs.",
	}
	f.ID = e.newID(f.Kind, "", is.at)
	what, by := "cleaned", "The logbook has no entry for it."
	switch {
	case e.entryAbout(was.at, is.at, journal.FilterReplaced):
		what, by = "replaced", "The logbook says so."
	case told:
		by = "The logbook says so too."
	}
	f.Text = fmt.Sprintf("The filter was %s: its resistance fell by %.0f %%, from %.2f to %.2f of the baseline's. %s",
		what, 100*part, before/base, after/base, by)
	e.findings = append(e.findings, f)
}

// tellLost raises the alarm of a filter that lost resistance without being cleaned.
func (e *Estimator) tellLost(was, is filterPoint, before, after float64) {
	e.filter.points = e.filter.points[:0]
	part := 1 - after/before
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.FilterLostResistance, Priority: finding.ActToday,
		Raised: is.at, Onset: is.from, OnsetLow: was.at, OnsetHigh: is.from,
		Size: part, SizeLow: part - 3*is.log.SE, SizeHigh: part + 3*is.log.SE, SizeUnit: "1", Confidence: confidence,
		ConfusableWith: diagnosis.Of(finding.FilterLostResistance).Others(),
		Action:         diagnosis.Of(finding.FilterLostResistance).Action(""),
		Evidence:       "The resistance fell to well below what any cleaning has left before.",
	}
	f.ID = e.newID(f.Kind, "", is.at)
	f.Text = fmt.Sprintf("The filter lost %.0f %% of its resistance without a cleaning that would explain it: it may be torn, badly seated or bypassed, and dust may come back into the room.", 100*part)
	e.findings = append(e.findings, f)
}

// watchRecovery ends a loss that the logbook explains afterwards, and tells when cleanings recover less and less.
func (e *Estimator) watchRecovery() {
	for i := range e.findings {
		f := &e.findings[i]
		if f.Kind == finding.FilterLostResistance && f.Active() && !e.isOfChange(f) && e.entryAbout(f.OnsetLow, f.OnsetHigh, journal.FilterReplaced, journal.FilterCleaned) {
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
		ConfusableWith: diagnosis.Of(finding.FilterNotRecovering).Others(),
		Action:         diagnosis.Of(finding.FilterNotRecovering).Action(""),
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

// isOfChange tells whether a finding is that of a change: what the record shows ends it, and no entry does.
func (e *Estimator) isOfChange(f *finding.Finding) bool {
	return slices.ContainsFunc(e.changes, func(c *change) bool { return c.finding == f.ID })
}

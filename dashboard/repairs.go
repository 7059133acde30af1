package dashboard

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

// repair is what somebody did about a finding, by the logbook, and the days by which one sees whether it worked.
type repair struct {
	entry         journal.Entry
	before, after *estimate.Day // nil: none that can be compared
	was, is       estimate.Value
	back          estimate.Value // how much of it came back; NaN where it cannot be told
}

// yardstick is a figure of a day by which a repair is judged: in SI, and whether less is better.
type yardstick struct {
	name string
	of   func(*estimate.Day) estimate.Value
	less bool
	text func(*server, estimate.Value) string
	unit string // of JSON
}

// How figures are told: shares in percent, leaks as flows.
var (
	asShare = func(_ *server, v estimate.Value) string { return percent(v) }
	asFlow  = func(s *server, v estimate.Value) string { return s.flowText(v) }
)

// remedies are the kinds of entry that are a repair of a kind of finding.
var remedies = map[finding.Kind][]journal.Kind{
	finding.NewLeak: leakRemedies, finding.GrowingLeak: leakRemedies, finding.GateLeaks: leakRemedies, finding.OpenSideChanged: leakRemedies,
	finding.DropBlocked:         {journal.HoseChanged, journal.DuctChanged, journal.GateReplaced, journal.Other},
	finding.TrunkBlocked:        {journal.DuctChanged, journal.Other},
	finding.FanSlow:             {journal.Other},
	finding.FilterDue:           {journal.FilterCleaned, journal.FilterReplaced},
	finding.FilterNotRecovering: {journal.FilterCleaned, journal.FilterReplaced},
	finding.FilterLoadsFast:     {journal.BinEmptied, journal.FilterCleaned, journal.FilterReplaced},
	finding.BinFull:             {journal.BinEmptied},
	finding.SensorZero:          sensorRemedies, finding.SensorStuck: sensorRemedies, finding.SensorPlugged: sensorRemedies,
	finding.SensorLost: sensorRemedies, finding.SensorDisagrees: sensorRemedies,
}

var (
	leakRemedies   = []journal.Kind{journal.Sealed, journal.GateReplaced, journal.HoseChanged, journal.DuctChanged}
	sensorRemedies = []journal.Kind{journal.SensorChanged}
)

// measuredBy is the figure by which a finding's repair is judged, if one is.
func measuredBy(f *finding.Finding) (yardstick, bool) {
	switch f.Kind {
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks:
		return yardstick{"New leakage", func(d *estimate.Day) estimate.Value { return d.Leakage }, true, asFlow, "m3/s"}, true
	case finding.FilterDue, finding.FilterNotRecovering:
		return yardstick{"The filter’s resistance", func(d *estimate.Day) estimate.Value { return d.FilterRatio }, true, asShare, "1"}, true
	case finding.FanSlow:
		return yardstick{"The fan’s speed", func(d *estimate.Day) estimate.Value { return d.FanRatio }, false, asShare, "1"}, true
	case finding.DropBlocked:
		return yardstick{"The drop’s loss", func(d *estimate.Day) estimate.Value { return blockage(d, f.Subject) }, true, asShare, "1"}, true
	}
	return yardstick{}, false
}

// blockage is the loss of a machine's drop on a day; NaN where it is not told.
func blockage(d *estimate.Day, machine string) estimate.Value {
	for _, b := range d.Blockage {
		if b.Machine == machine {
			return b.Factor
		}
	}
	return estimate.Value{V: math.NaN(), SE: math.NaN()}
}

// near is how many days on either side of a repair are looked at: the best known of them is compared.
const near = 5

// repairs are what was done about a finding since it began, oldest first. What was corrected since does not count.
func (s *server) repairs(c *watch.Collector, f *finding.Finding, entries []journal.Entry) (out []repair) {
	from := f.Onset
	if from.IsZero() {
		from = f.Raised
	}
	until := f.Ended.AddDate(0, 0, 1)
	for _, e := range journal.InForce(entries) {
		if e.Time.Before(from) || !f.Active() && e.Time.After(until) || !slices.Contains(remedies[f.Kind], e.Kind) || !concerns(e.Subject, c, f) {
			continue
		}
		r := repair{entry: e, back: estimate.Value{V: math.NaN(), SE: math.NaN()}}
		if m, ok := measuredBy(f); ok {
			s.compare(&r, c, m)
		}
		out = append(out, r)
	}
	return out
}

// concerns tells whether what was done at a subject may have been about a finding: at its own subject or one of its places, or at
// nothing in particular.
func concerns(subject string, c *watch.Collector, f *finding.Finding) bool {
	if subject == "" || subject == c.Name || subject == f.Subject {
		return true
	}
	return slices.ContainsFunc(f.Where, func(p finding.Place) bool {
		return slices.ContainsFunc(append([]string{p.Part}, p.Members...), func(part string) bool {
			_, name, _ := strings.Cut(part, ":")
			return name == subject
		})
	})
}

// compare takes the best known day before a repair and the best known after it, of one baseline.
func (s *server) compare(r *repair, c *watch.Collector, m yardstick) {
	date := s.local(r.entry.Time).Format(time.DateOnly)
	var before, after []*estimate.Day
	for i := range c.Days {
		d := &c.Days[i]
		switch v := m.of(d); {
		case !known(v.V) || !(v.SE > 0):
		case d.Date < date:
			before = append(before, d)
		case d.Date > date && len(after) < near:
			after = append(after, d)
		}
	}
	before = before[max(0, len(before)-near):]
	if len(before) == 0 || len(after) == 0 {
		return
	}
	best := func(a, b *estimate.Day) int {
		if m.of(b).SE < m.of(a).SE {
			return 1
		}
		return -1
	}
	x, y := slices.MinFunc(before, best), slices.MinFunc(after, best)
	if x.Baseline != y.Baseline {
		return // they are told against different things
	}
	r.before, r.after, r.was, r.is = x, y, m.of(x), m.of(y)
	r.back = recovered(r.was, r.is)
	if !m.less {
		r.back.V = -r.back.V
	}
}

// repairLine is a repair in words.
type repairLine struct{ What, Worked string }

// repairLines put into words what was done about a finding, and whether it worked.
func (s *server) repairLines(c *watch.Collector, f *finding.Finding, entries []journal.Entry, now time.Time) (out []repairLine) {
	m, judged := measuredBy(f)
	for _, r := range s.repairs(c, f, entries) {
		l := repairLine{What: entryTitle(r.entry.Kind)}
		if r.entry.Subject != "" {
			l.What += " at " + r.entry.Subject
		}
		l.What += ", " + s.day(r.entry.Time, now) + ", by " + r.entry.By
		if r.entry.Note != "" {
			l.What += ": " + r.entry.Note
		}
		switch {
		case !judged:
		case !known(r.back.V):
			l.Worked = "Whether it worked will be told when days of work before and after it can be compared."
		default:
			l.Worked = s.workedText(&r, m)
		}
		out = append(out, l)
	}
	return out
}

// workedText says how much came back; nine times in ten right that any did.
func (s *server) workedText(r *repair, m yardstick) string {
	text := fmt.Sprintf("%s was %s on %s and %s on %s", m.name, m.text(s, r.was), s.dateText(r.before.Date), m.text(s, r.is), s.dateText(r.after.Date))
	switch half := ninety * r.back.SE; {
	case r.back.V > half:
		return text + ": " + m.text(s, r.back) + " came back."
	case r.back.V < -half:
		return text + ": nothing came back, it became worse."
	}
	return text + ": that anything came back cannot be told from these days."
}

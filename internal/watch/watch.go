// Package watch is the whole of the watch as one pure fold: readings become runs, runs and the journal become
// estimates, estimates become findings. The daemon and a replay of a file use the same fold. It reads no clock, draws
// no random numbers and does no I/O: the same input gives the same findings, bit for bit.
//
// A Watch is not safe for concurrent use; the snapshots that it hands out are.
package watch

import (
	"fmt"
	"math"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// Watch folds the readings of one shop.
type Watch struct {
	shop  *shop.Shop
	parts []*part
}

// part is the fold of one collector.
type part struct {
	collector *shop.Collector
	folder    *steady.Folder
	estimate  *estimate.Estimator
	health    *health
	outages   outages
}

// New returns a watch over a shop that has seen nothing yet.
func New(s *shop.Shop) (*Watch, error) {
	w := &Watch{shop: s}
	for _, c := range s.Collectors {
		e, err := estimate.New(s, c)
		if err != nil {
			return nil, fmt.Errorf("collector %q: %w", c.Name, err)
		}
		w.parts = append(w.parts, &part{collector: c, folder: steady.NewFolder(c), estimate: e, health: newHealth(c),
			outages: outages{collector: c.Name, zone: s.Site.Location}})
	}
	return w, nil
}

// Unadvised lets the watch go without proposals of a next test from now on, which cost most of its time while a leak's place
// is not known. It must not be asked of a watch that is to be resumed by one that gives them.
func (w *Watch) Unadvised() {
	for _, p := range w.parts {
		p.estimate.Unadvised()
	}
}

// Reading takes one reading, in stored order, and returns the runs that it brought to an end. They have been taken
// into the estimate; the caller stores them.
func (w *Watch) Reading(r reading.Reading) []steady.Run {
	var out []steady.Run
	for _, p := range w.parts {
		p.health.reading(&r)
		for _, run := range p.folder.Add(&r) {
			p.take(run)
			out = append(out, run)
		}
	}
	return out
}

// Run takes a run that was stored, so that a restart need not fold the raw readings again.
func (w *Watch) Run(r steady.Run) {
	for _, p := range w.parts {
		if p.collector.Name == r.Collector && !p.folder.Knows(&r) {
			p.folder.Restore(&r)
			p.take(r)
		}
	}
}

// take hands a run to the estimate.
func (p *part) take(r steady.Run) {
	p.health.run(&r)
	p.estimate.Run(r)
	p.follow()
}

// follow lets the folder cut its stretches as the estimate needs them.
func (p *part) follow() {
	_, test := p.estimate.Hunting()
	p.folder.CutAfter(test)
}

// Entry takes an entry of the journal. Entries and runs must come in the order in which they happened.
func (w *Watch) Entry(e journal.Entry) {
	for _, p := range w.parts {
		p.estimate.Entry(e)
		p.follow()
	}
}

// Fault tells that a channel yields no readings, and why. Code is a short name, text says it in words.
func (w *Watch) Fault(channel, code, text string, at time.Time) {
	for _, p := range w.parts {
		if p.health.has(channel) {
			p.health.fault(channel, text, at)
			p.outages.begin(channel, code, text, at)
		}
	}
}

// FaultCleared tells that a channel yields readings again.
func (w *Watch) FaultCleared(channel string, at time.Time) {
	for _, p := range w.parts {
		if p.health.has(channel) {
			p.health.cleared(channel)
			p.outages.end(channel, at)
		}
	}
}

// Flush ends what goes on, at the end of the input: the open runs, which it returns, and the open day.
func (w *Watch) Flush() []steady.Run {
	var out []steady.Run
	for _, p := range w.parts {
		for _, run := range p.folder.Flush() {
			p.take(run)
			out = append(out, run)
		}
		p.estimate.Flush()
	}
	return out
}

// Snapshot returns what is known now. It shares nothing with the watch that the watch will change.
func (w *Watch) Snapshot() *Snapshot {
	s := &Snapshot{Shop: w.shop.Name, ReferenceSuction: math.NaN()}
	for _, p := range w.parts {
		s.ReferenceSuction = p.estimate.ReferenceSuction()
		open, settled := p.folder.Open()
		on, known := p.folder.FanOn()
		now := p.estimate.Now(open, settled)
		now.FanOn = on && known
		hunting, _ := p.estimate.Hunting()
		now.Stands = open.End - open.Start
		s.Collectors = append(s.Collectors, Collector{
			Name:     p.collector.Name,
			Baseline: p.estimate.Baseline(),
			Now:      now,
			Days:     p.estimate.Days(),
			Guesses:  p.estimate.Guesses(),
			Findings: p.outages.among(p.estimate.Findings()),
			Sensors:  p.health.sensors(p.folder.Zeros()),
			Lacks:    p.estimate.Lacks(),
			NextTest: p.estimate.NextTest(),
			Checks:   p.estimate.Checks(),
			Hunting:  hunting,
			Standing: p.folder.Standing(),
			Promise:  p.estimate.Promise(),
		})
	}
	return s
}

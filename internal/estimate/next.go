package estimate

import (
	"math"
	"slices"
	"time"

	"ductward/internal/finding"
	"ductward/internal/nexttest"
)

// NextTest says which test would tell most about where the latest change is.
type NextTest struct {
	Finding  string          // ID of the finding that it is about
	Suspects []finding.Place // as they stand, most probable first
	Entropy  float64         // bits that are left to be told, of the single parts
	Tests    []Proposal      // the best first; none where none would help
	Refused  int             // sets of gates that were not looked at, since the ducts are not known to bear them
	Reason   string          // why there is no test, or why those that there are tell little; else ""
}

// Proposal is one set of gates to be run with every machine idle.
type Proposal struct {
	Open      []string       // gates, sorted; none: every gate shut
	Ports     map[string]int // positions of the selectors behind open gates
	Duration  time.Duration  // of steady air
	Gain      float64        // bits that it should tell
	Likeliest float64        // the probability that the likeliest part should then have
	Seen      bool           // the baseline holds these gates
	Reason    string         // why, in words
	Parts     [2]string      // which two places it parts best
	Channel   string         // that shows it
	Shift     float64        // Pa between the two there
	SD        float64        // Pa, of what one such run reads there
	set       *gateSet
}

// nextState is what the choice of the next test keeps. It has a viewer of its own, whose many sets of gates would drive the
// fold's own from the cache.
type nextState struct {
	viewer *viewer      `checkpoint:"-"`
	cal    *calibration // of which all this is
	found  *NextTest
	about  *change
	mass   []float64 // by column, as it was when the test was chosen
	filter float64   // log resistance then
	day    int       // among all days
}

// When a test is chosen.
const (
	placeSure   = 0.9  // a part as probable as that is told: nothing is left to test
	suspectMass = 0.01 // below it a column is no suspect
	mostParts   = 12   // suspects; the others share what is left
	massMoved   = 0.10 // a test is chosen anew when a probability has moved by as much
	nextDays    = 5    // or after as many days
	leastGain   = 0.1  // nats: a test that tells less is not worth anybody's time
	poorGain    = 0.5  // bits: where the best test tells less, that is said
	mostTests   = 3    // that are told
)

// NextTest returns the test that would narrow the suspects most; nil where there is nothing to be told apart.
func (e *Estimator) NextTest() *NextTest {
	if e.cal == nil || e.next.cal != e.cal {
		return nil
	}
	return e.next.found
}

// Unadvised lets the estimate go without a next test from now on, which is most of its work while a leak's place is not
// known: for who lives through many records and runs no tests. Nothing else that is told depends on it.
func (e *Estimator) Unadvised() { e.unadvised = true }

// keepUp lets go of what belongs to another baseline than the one that holds.
func (e *Estimator) keepUp() {
	if e.next.cal == e.cal {
		return
	}
	e.next = nextState{cal: e.cal}
	e.checks.daily, e.checks.walk = nil, nil
}

// plan chooses the next test after a day, or after the part of it that has passed. It does nothing while nothing is
// suspected, what is suspected is sure, or nothing has changed since a test was chosen.
func (e *Estimator) plan(d *dayData) {
	e.keepUp()
	if e.unadvised {
		return
	}
	c := e.suspected()
	if c == nil || d.doubt == nil {
		e.next.found, e.next.about = nil, nil
		return
	}
	b, cols := e.belief(c)
	if surest(b) >= placeSure {
		e.next.found, e.next.about = nil, nil
		return
	}
	if e.next.about == c && !e.staleBy(c, d) {
		fresh := *e.next.found
		fresh.Suspects = e.whereTold(c)
		e.next.found = &fresh // the one before may have been handed out
		return
	}
	e.next.about, e.next.mass, e.next.filter, e.next.day = c, slices.Clone(c.mass), e.logFilterNow(), d.at
	if e.next.found = e.choose(c, b, cols, d); e.next.found == nil {
		e.next.about = nil
	}
}

// testViewer returns the viewer of the sets of gates that a test might open.
func (e *Estimator) testViewer() *viewer {
	if e.next.viewer == nil {
		e.next.viewer = newViewer(e.collector, e.viewer.model)
	}
	return e.next.viewer
}

// suspected returns the change whose place is looked for: the latest, while it lasts.
func (e *Estimator) suspected() *change {
	if e.viewer == nil || e.cal == nil || len(e.changes) == 0 {
		return nil
	}
	c := e.changes[len(e.changes)-1]
	if c.ended >= 0 && c.final <= 0 || c.mass == nil || c.sizes == nil {
		return nil
	}
	return c
}

// whereTold returns the places that the finding of a change names.
func (e *Estimator) whereTold(c *change) []finding.Place {
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && len(f.Where) > 0 {
			return f.Where
		}
	}
	return e.places(c)
}

// staleBy tells whether what a test was chosen by has moved since.
func (e *Estimator) staleBy(c *change, d *dayData) bool {
	if e.hunt.on || d.at-e.next.day >= nextDays || math.Abs(e.logFilterNow()-e.next.filter) > filterGrid {
		return true
	}
	for j, m := range c.mass {
		if math.Abs(m-e.next.mass[j]) > massMoved {
			return true
		}
	}
	return false
}

// choose ranks the sets of gates that the ducts bear.
func (e *Estimator) choose(c *change, b nexttest.Belief, cols []int, d *dayData) *NextTest {
	entropy, err := b.Entropy()
	if err != nil {
		return nil
	}
	out := &NextTest{Finding: c.finding, Suspects: e.whereTold(c), Entropy: entropy / math.Ln2}
	if v := e.testViewer(); len(v.cache) > mostSets { // of a filter that was cleaner: a large shop's views weigh
		clear(v.cache)
	}
	p := e.newPredictor(c, cols, d)
	sets, refused := e.candidates()
	out.Refused = refused
	rows := p.rank(b, sets)
	more, refused := e.pairs(rows, sets)
	out.Refused += refused
	rows = p.sharpen(b, append(rows, p.rank(b, more)...))
	for _, r := range rows {
		if r.advice.Gain >= leastGain && len(out.Tests) < mostTests {
			out.Tests = append(out.Tests, e.proposal(p, &r))
		}
	}
	switch {
	case len(out.Tests) == 0:
		out.Reason = e.noTestWords(out.Refused)
	case out.Tests[0].Gain < poorGain:
		out.Reason = littleWords
	}
	return out
}

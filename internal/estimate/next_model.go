package estimate

import (
	"math"
	"sort"

	"ductward/internal/nexttest"
)

// predictor foretells what a run of a set of gates would read for each suspect.
type predictor struct {
	e     *Estimator
	c     *change
	cols  []int // of the suspects
	day   *dayData
	rate  []float64        // by channel: Pa² over one second, of lately
	past  map[string]*past // by gate set, what has been run since the change
	since []*dayData
}

// past is how often a set of gates has been run since the change.
type past struct {
	runs, uses, days float64
	hunted           bool      // in the hunt that goes on: its hoods stand as they stood
	rate             []float64 // by channel: Pa² over one second
}

// ranked is a set of gates with what it should tell.
type ranked struct {
	set    *gateSet
	advice nexttest.Advice
}

func (e *Estimator) newPredictor(c *change, cols []int, d *dayData) *predictor {
	p := &predictor{e: e, c: c, cols: cols, day: d, past: map[string]*past{}}
	for _, o := range e.days {
		if o.at >= c.onset && o.at != d.at {
			p.since = append(p.since, o)
		}
	}
	p.since = append(p.since, d)
	n := len(e.cols.channels)
	all := &past{rate: make([]float64, n)}
	for _, d := range p.since {
		seen := map[string]bool{}
		for i := range d.obs {
			o := &d.obs[i]
			h := p.past[o.set.key]
			if h == nil {
				h = &past{rate: make([]float64, n)}
				p.past[o.set.key] = h
			}
			if !seen[o.set.key] {
				seen[o.set.key] = true
				h.days++
			}
			h.add(e, o)
			h.hunted = h.hunted || e.hunt.on && d == p.day && o.run.End-o.run.Start >= leastTest
			all.add(e, o)
		}
	}
	for _, h := range p.past {
		h.mean()
	}
	all.mean()
	p.rate = all.rate
	return p
}

// add takes in one run: its scatter, and its share of a use.
func (h *past) add(e *Estimator, o *observation) {
	h.runs++
	h.uses += shareOf(o)
	seconds := max((o.run.End-o.run.Start).Seconds()-unsettled, 1)
	for _, c := range o.have {
		if s := channelOf(o.run, e.cols.channels[c]); s != nil && !math.IsNaN(s.SE) {
			h.rate[c] += s.SE * s.SE * seconds
		}
	}
}

// unsettled is about how many seconds of a run are not used, since the air has not yet come to rest.
const unsettled = 20.0

func (h *past) mean() {
	for c := range h.rate {
		h.rate[c] /= max(h.runs, 1)
	}
}

// shareOf returns a run's share of the use that it belongs to, of all machines that draw air; 1 where none does.
func shareOf(o *observation) float64 {
	if len(o.shares) == 0 {
		return 1
	}
	sum := 0.0
	for _, s := range o.shares {
		sum += s
	}
	return sum / float64(len(o.shares))
}

// nextView returns the model of a set of gates as it is for the choice of a test: before anything has changed, so that it
// need not be made anew each day.
func (e *Estimator) nextView(g *gateSet) (*view, error) {
	v, _, _, err := e.testViewer().at(g, &state{logFilter: e.logFilterNow(), globals: e.cal.globals}, e.standardAir())
	return v, err
}

// rank orders sets of gates by what they should tell, with a rough idea of how well the drawing foretells a suspect.
func (p *predictor) rank(b nexttest.Belief, sets []*gateSet) []ranked {
	return p.order(b, sets, func(*gateSet, int) [][]float64 { return nil }, len(sets))
}

// sharpen orders the best of some sets anew, with how otherwise each suspect shows in ducts that are built otherwise.
func (p *predictor) sharpen(b nexttest.Belief, rows []ranked) []ranked {
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].advice.Gain > rows[j].advice.Gain })
	var sets []*gateSet
	for i := range rows[:min(len(rows), 2*mostTests)] {
		sets = append(sets, rows[i].set)
	}
	at := &state{logFilter: p.e.logFilterNow(), globals: p.e.cal.globals}
	return p.order(b, sets, func(g *gateSet, col int) [][]float64 {
		if p.e.cols.columnParams(col) == nil {
			return nil
		}
		s, err := p.e.testViewer().spread(g, at, col)
		if err != nil {
			return nil
		}
		return s
	}, mostTests)
}

// order ranks sets of gates; otherwise tells how otherwise a suspect may show in one, by channel, or nil.
func (p *predictor) order(b nexttest.Belief, sets []*gateSet, otherwise spreader, most int) []ranked {
	if len(sets) == 0 {
		return nil
	}
	var tests []nexttest.Test
	var of []*gateSet
	for _, g := range sets {
		if t, ok := p.test(g, otherwise); ok {
			tests, of = append(tests, t), append(of, g)
		}
	}
	advice, err := nexttest.Rank(b, tests, most)
	if err != nil {
		return nil // a covariance that is none: no test is better than a wrong one
	}
	var out []ranked
	for _, a := range advice {
		out = append(out, ranked{set: of[a.Test], advice: a})
	}
	return out
}

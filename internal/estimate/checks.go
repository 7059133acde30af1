package estimate

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/steady"
)

// CheckKind is a kind of check that the shop is asked for regularly.
type CheckKind string

// The kinds of check.
const (
	ClosedCheck    CheckKind = "closed"    // every gate shut, where the ducts are known to bear it
	ReferenceCheck CheckKind = "reference" // else one chosen gate, its machine idle
	WalkCheck      CheckKind = "walk"      // one gate after another
)

// Check is a short test with every machine idle that keeps the watch sharp, and whether it is due.
type Check struct {
	Kind     CheckKind
	Sets     [][]string    // gates to have open, one set after another; an empty set: every gate shut
	Duration time.Duration // of steady air in each set
	Due      bool
	Since    time.Time // due since; zero while it is not
	Last     time.Time // last done; zero: never, or not known
	Power    float64   // standard error of the total new leakage that one such check tells, m³/s; NaN: not known
	Closed   float64   // the same of one with every gate shut, where the ducts are not known to bear that; else NaN
}

// How often, and how long.
const (
	checkLasts = 2 * time.Minute
	stepLasts  = time.Minute        // in each set of a walk
	walkEvery  = 7 * 24 * time.Hour // since each set was run last
	walkSteps  = 8                  // at most: with the time to move the gates that is some ten minutes
	leastCheck = 45 * time.Second   // a shorter run is no check
)

// checkBook is what is kept of the regular checks.
type checkBook struct {
	daily *dailySet            // what is asked for each day; nil: not known yet, or nothing can be
	walk  []*gateSet           // machines alone
	last  map[string]time.Time // by gate set: when it was run last, long enough
	since time.Time            // first run of the first whole day without a daily check since the last one
	today time.Time            // first run of the day that goes on
	done  bool                 // the day that goes on has had its check
	begun time.Time            // since when checks are asked for: the baseline's end
}

// dailySet is the set of gates that is asked for each day.
type dailySet struct {
	set    *gateSet
	kind   CheckKind
	power  float64 // m³/s
	closed float64 // m³/s; NaN where it is that set
}

// note takes in that a run was a check of some kind.
func (b *checkBook) note(r *steady.Run, set *gateSet, newDay bool) {
	if newDay {
		if b.since.IsZero() && !b.done {
			b.since = b.today
		}
		b.today, b.done = r.At, false
	}
	if r.At.IsZero() || r.End-r.Start < leastCheck || r.Kind != steady.Running && r.Kind != steady.Closed {
		return
	}
	if b.last == nil {
		b.last = map[string]time.Time{}
	}
	b.last[set.key] = r.At
	if r.Kind == steady.Closed || b.daily != nil && b.daily.set.key == set.key {
		b.since, b.done = time.Time{}, true
	}
}

// prepareChecks chooses what is asked for regularly, once for each baseline: on the first day against it.
func (e *Estimator) prepareChecks(d *dayData) {
	e.keepUp()
	b := &e.checks
	if b.daily != nil || d.doubt == nil {
		return
	}
	b.begun, b.since, b.done = e.cal.to, time.Time{}, true // asked for from tomorrow on
	p := e.newPredictor(&change{}, nil, d)
	shut := e.closedSet()
	closed := p.leakError(shut)
	if e.bears(shut) {
		b.daily = &dailySet{set: shut, kind: ClosedCheck, power: closed, closed: math.NaN()}
	}
	for _, m := range e.collector.Machines {
		set := e.aloneSet(m.Name)
		if set == nil || !e.bears(set) {
			continue
		}
		if !slices.ContainsFunc(b.walk, func(g *gateSet) bool { return g.key == set.key }) {
			b.walk = append(b.walk, set)
		}
		if e.cal.bias[set.key] == nil || b.daily != nil && b.daily.kind == ClosedCheck {
			continue
		}
		if sd := p.leakError(set); !math.IsNaN(sd) && (b.daily == nil || sd < b.daily.power) {
			b.daily = &dailySet{set: set, kind: ReferenceCheck, power: sd, closed: closed}
		}
	}
}

// leakError returns the standard error of the total new leakage, m³/s, that two minutes of a set of gates tell: of the
// zones where it may be, half tell it better. NaN where nothing is told.
func (p *predictor) leakError(g *gateSet) float64 {
	v, err := p.e.nextView(g)
	chs := p.channelsNow()
	if err != nil || len(chs) == 0 {
		return math.NaN()
	}
	expect := p.expect(g, v)
	own, hood, shared := p.noise(g, v, chs, expect)
	cov := mat.NewSymDense(len(chs), nil)
	cov.AddSym(own, shared)
	cov.AddSym(cov, hood)
	variance := p.e.biasVariance(g)
	for i, c := range chs {
		cov.SetSym(i, i, cov.At(i, i)+variance[c]+p.rate[c]/(expect[c]*expect[c])/checkLasts.Seconds())
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return math.NaN()
	}
	var zones []zoneInfo
	for j, w := range p.e.zoneWeights() {
		s := mat.NewVecDense(len(chs), p.shape(g, v, chs, j))
		var x mat.VecDense
		if w > 0 && chol.SolveVecTo(&x, s) == nil {
			zones = append(zones, zoneInfo{mat.Dot(s, &x), w})
		}
	}
	if info := middle(zones); info > 0 {
		return 1 / math.Sqrt(info)
	}
	return math.NaN()
}

// zoneInfo is how well a leak in one zone is told, as the inverse of a variance, and the zone's weight.
type zoneInfo struct{ info, weight float64 }

// middle returns the weighted median; 0 of none.
func middle(zones []zoneInfo) float64 {
	slices.SortStableFunc(zones, func(a, b zoneInfo) int { return cmp.Compare(b.info, a.info) })
	total, sum := 0.0, 0.0
	for _, z := range zones {
		total += z.weight
	}
	for _, z := range zones {
		if sum += z.weight; 2*sum >= total {
			return z.info
		}
	}
	return 0
}

// Checks returns the checks that the shop is asked for, the daily one first; none before there is a baseline.
func (e *Estimator) Checks() []Check {
	b := &e.checks
	if e.cal == nil || e.next.cal != e.cal || b.daily == nil {
		return nil
	}
	day := Check{Kind: b.daily.kind, Sets: [][]string{append([]string{}, b.daily.set.open...)}, Duration: checkLasts, Due: !b.since.IsZero(), Since: b.since,
		Last: b.last[b.daily.set.key], Power: b.daily.power, Closed: b.daily.closed}
	out := []Check{day}
	if w, ok := e.walkDue(); ok {
		w.Power, w.Closed = math.NaN(), math.NaN()
		out = append(out, w)
	}
	return out
}

// walkDue tells which gates have not been open alone for a week, the longest ago first, and since when that is.
func (e *Estimator) walkDue() (Check, bool) {
	b := &e.checks
	if len(b.walk) == 0 {
		return Check{}, false
	}
	sets := slices.Clone(b.walk)
	when := func(g *gateSet) time.Time {
		if at, ok := b.last[g.key]; ok {
			return at
		}
		return b.begun
	}
	slices.SortStableFunc(sets, func(x, y *gateSet) int { return when(x).Compare(when(y)) })
	w := Check{Kind: WalkCheck, Duration: stepLasts, Last: when(sets[0])}
	for _, g := range sets {
		due := when(g).Add(walkEvery)
		if e.lastAt.Before(due) || when(g).IsZero() || len(w.Sets) == walkSteps {
			continue
		}
		if !w.Due {
			w.Due, w.Since = true, due
		}
		w.Sets = append(w.Sets, slices.Clone(g.open))
	}
	return w, true
}

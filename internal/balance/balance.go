package balance

import (
	"fmt"
	"slices"
	"sync"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Ask is what is asked of a collector.
type Ask struct {
	State duct.State // filter, fan and air; the setting is not used
	Work  int        // runs to solve, over all sets, at each resistance of the filter; 0 for what is usual
}

// usualWork keeps a shop of 40 runs to about a second.
const usualWork = 240_000

// leastSets are tried however large the network is.
const leastSets = 1000

// Of finds which machines of a collector may be open together.
func Of(c *shop.Collector, ask Ask) (*Answer, error) {
	m, err := duct.New(c)
	if err != nil {
		return nil, err
	}
	w, err := waysOf(c)
	if err != nil {
		return nil, err
	}
	first := ask.State.FilterRatio
	if !(first > 0) {
		first = 1
	}
	b := &board{collector: c, ways: w, filter: []float64{first}}
	if limit := verdict.FilterAtLimit(c.Filter); limit > first {
		b.filter = append(b.filter, limit)
	}
	work := ask.Work
	if work <= 0 {
		work = usualWork
	}
	budget := max(leastSets, work/len(c.Network.Runs))
	for _, ratio := range b.filter {
		st := ask.State
		st.FilterRatio = ratio
		b.add(newBench(c, m, w, st), !allFit(len(w.list), budget), budget)
	}
	b.search()
	return b.answer()
}

// allFit tells that every set of n ways can be tried.
func allFit(n, budget int) bool {
	return n < 30 && 1<<n <= int(float64(budget)*(1-climbShare))
}

// board is what the searches found.
type board struct {
	collector *shop.Collector
	ways      *ways
	filter    []float64
	benches   []*bench
	searches  []*search
}

// add makes a search on a bench.
func (b *board) add(on *bench, prune bool, budget int) {
	b.benches = append(b.benches, on)
	b.searches = append(b.searches, &search{
		n: len(b.ways.list), clash: b.ways.clashes, try: on.try, prune: prune, budget: budget,
	})
}

// search runs the searches side by side: each has its own bench, and the model may be shared.
func (b *board) search() {
	var all sync.WaitGroup
	for _, s := range b.searches {
		all.Go(s.run)
	}
	all.Wait()
}

// pick lists the sets of a search that pass and hold a machine.
func (b *board) pick(s *search, pass func(outcome) bool) []set {
	var out []set
	for _, t := range s.order {
		if pass(s.found[t]) && len(b.ways.machines(t)) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// sets are those that pass at the first resistance, and those that pass at all.
type sets struct{ first, all []set }

func (b *board) sets(pass func(outcome) bool) sets {
	out := sets{first: b.pick(b.searches[0], pass)}
	for _, s := range out.first {
		if !slices.ContainsFunc(b.searches[1:], func(other *search) bool { return !pass(other.found[s]) }) {
			out.all = append(out.all, s)
		}
	}
	return out
}

func isFine(o outcome) bool { return o.fine }
func isFed(o outcome) bool  { return o.fed }

func (b *board) answer() (*Answer, error) {
	fine, fed := b.sets(isFine), b.sets(isFed)
	a := &Answer{
		Collector: b.collector.Name, Least: verdict.Transport(b.collector), Rating: b.collector.Rating, Filter: b.filter,
		All: true, Whole: len(b.ways.list), Safe: len(fine.all),
	}
	for i, s := range b.searches {
		a.Solved += len(s.order)
		a.Lost += b.benches[i].lost
		a.All = a.All && s.done
		a.Whole = min(a.Whole, s.whole)
		a.Pruned = a.Pruned || s.prune
		a.Fine = append(a.Fine, len(b.pick(s, isFine)))
		a.Fed = append(a.Fed, len(b.pick(s, isFed)))
	}
	for _, l := range []struct {
		into *[]Together
		sets []set
	}{
		{&a.Together, maximal(fine.all)},
		{&a.FirstOnly, without(maximal(fine.first), fine.all)},
		{&a.AirOnly, without(maximal(fed.all), fine.first)},
	} {
		var err error
		if *l.into, err = b.tell(l.sets); err != nil {
			return nil, err
		}
	}
	for i := range b.collector.Machines {
		m, err := b.machine(i, fine, fed)
		if err != nil {
			return nil, err
		}
		a.Machines = append(a.Machines, m)
	}
	a.Runs = b.slowRuns()
	return a, nil
}

// without drops the sets that are among others.
func without(sets, others []set) []set {
	known := map[set]bool{}
	for _, s := range others {
		known[s] = true
	}
	return slices.DeleteFunc(sets, func(s set) bool { return known[s] })
}

// slowRuns lists the runs that carry in no set in which each machine has its air.
func (b *board) slowRuns() []Run {
	last := b.benches[len(b.benches)-1]
	var out []Run
	for i, c := range last.runs {
		if !c.used || c.best >= last.judge.Least {
			continue
		}
		run := b.collector.Network.Runs[i]
		r := Run{Name: run.Name, Diameter: run.Diameter, Best: c.best, With: b.names(c.bestIn), Velocity: unknown}
		if c.swept && b.bears(c.sweep) {
			r.Sweep, r.Velocity = b.names(c.sweep), c.velocity
		}
		out = append(out, r)
	}
	return out
}

// bears tells that the ducts bear the suction of a set at every resistance of the filter: it is largest when clean.
func (b *board) bears(s set) bool {
	for _, bench := range b.benches {
		if _, v, err := bench.solve(s); err != nil || !v.Bears() {
			return false
		}
	}
	return true
}

// tell solves each set again, from nothing, so that what is told does not hang on how it was found.
func (b *board) tell(sets []set) ([]Together, error) {
	var out []Together
	for _, s := range sets {
		t := Together{Machines: b.names(s)}
		for _, bench := range b.benches {
			f, err := bench.fare(s)
			if err != nil {
				return nil, fmt.Errorf("with %s open: %w", list(t.Machines), err)
			}
			t.At = append(t.At, f)
		}
		out = append(out, t)
	}
	return out, nil
}

func (b *board) names(s set) []string {
	var out []string
	for _, i := range b.ways.machines(s) {
		out = append(out, b.collector.Machines[i].Name)
	}
	return out
}

// fare solves a set afresh and tells how it fares.
func (b *bench) fare(s set) (Fare, error) {
	r, v, err := b.solve(s)
	if err != nil {
		return Fare{}, err
	}
	f := Fare{Fine: v.Fine(), FanFlow: r.FanFlow, Suction: v.Suction, Slack: unknown, Wrong: wrong(v)}
	f.Slowest, f.Velocity = b.judge.Slowest(r)
	for _, m := range r.Machines {
		if !m.Open {
			continue
		}
		f.Open = append(f.Open, m)
		if spare := m.Flow/m.Needs - 1; m.Needs > 0 && !(spare >= f.Slack) {
			f.Tightest, f.Slack = m.Name, spare
		}
	}
	return f, nil
}

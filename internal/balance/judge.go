package balance

import (
	"math"
	"slices"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// bench solves and judges sets in one state of filter, fan and air.
type bench struct {
	model *duct.Model
	judge *verdict.Judge
	ways  *ways
	state duct.State   // its setting is not used
	last  *duct.Result // the set that was solved before: the next one is its neighbour, and takes over its memory
	lost  int          // sets for which there was no state of balance
	runs  []carriage   // by run
}

// alike is the share by which one set must be better than another to be told in its place: not by rounding.
const alike = 1e-6

// carriage is what the sets that were solved do for one run.
type carriage struct {
	used     bool    // in a set that is fed
	best     float64 // m/s, the fastest in such a set
	bestIn   set
	swept    bool    // there is a set, whoever is short in it, in which the air carries the dust and the ducts bear the suction
	velocity float64 // m/s, in the first such set: one with the fewest ways
	sweep    set
}

func newBench(c *shop.Collector, m *duct.Model, w *ways, st duct.State) *bench {
	return &bench{model: m, judge: verdict.For(c), ways: w, state: st, runs: make([]carriage, len(c.Network.Runs))}
}

// try solves a set from the one before.
func (b *bench) try(s set) outcome {
	st := b.state
	st.Setting = b.ways.setting(s)
	from, into := b.last, b.last
	if into == nil {
		into = &duct.Result{}
	}
	b.last = nil
	if err := b.model.Renew(into, st, from); err != nil {
		b.lost++
		return outcome{miss: math.Inf(1), slack: math.Inf(-1)}
	}
	b.last = into
	return b.weigh(s, into)
}

// solve solves a set afresh.
func (b *bench) solve(s set) (*duct.Result, verdict.Verdict, error) {
	st := b.state
	st.Setting = b.ways.setting(s)
	r, err := b.model.Solve(st)
	if err != nil {
		return nil, verdict.Verdict{}, err
	}
	return r, b.judge.Of(r), nil
}

// weigh judges a solved set. A set whose moves open more machines than it names is not fine: it is found under all of
// their names.
func (b *bench) weigh(s set, r *duct.Result) outcome {
	v := b.judge.Of(r)
	o := outcome{air: len(v.Short) == 0, slack: slack(r), miss: worst(v)}
	o.fed = o.air && v.Bears() && b.opens(s, r)
	o.fine = o.fed && len(v.Slow) == 0
	b.carry(s, r, o.fed, v.Bears())
	return o
}

// carry notes what a solved set does for each run.
func (b *bench) carry(s set, r *duct.Result, fed, bears bool) {
	used := b.judge.Used(r)
	for i := range b.runs {
		c, velocity := &b.runs[i], math.Abs(r.Runs[i].Velocity)
		if fed && used[i] && velocity > c.best*(1+alike) {
			c.used, c.best, c.bestIn = true, velocity, s
		}
		if !c.swept && bears && velocity >= b.judge.Least {
			c.swept, c.velocity, c.sweep = true, velocity, s
		}
	}
}

// opens tells that exactly the machines of a set are open.
func (b *bench) opens(s set, r *duct.Result) bool {
	want := b.ways.machines(s)
	open := 0
	for i, m := range r.Machines {
		if m.Open {
			open++
			if !slices.Contains(want, i) {
				return false
			}
		}
	}
	return open == len(want)
}

// slack is the least that an open machine has beyond its need, over its need. Without a need, it is infinite.
func slack(r *duct.Result) float64 {
	least := math.Inf(1)
	for _, m := range r.Machines {
		if m.Open && m.Needs > 0 {
			least = math.Min(least, m.Flow/m.Needs-1)
		}
	}
	return least
}

// worst is the worst of what is wrong, over its limit.
func worst(v verdict.Verdict) float64 {
	w := 0.0
	for _, s := range v.Short {
		w = math.Max(w, 1-s.Flow/s.Needs)
	}
	for _, s := range v.Slow {
		w = math.Max(w, 1-s.Velocity/s.Least)
	}
	if !v.Bears() {
		w = math.Max(w, v.Suction/v.Rating-1)
	}
	return w
}

package improve

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// outcome is what is kept of one solved set.
type outcome struct {
	flow   []float64          // m³/s, by machine
	open   []bool             // by machine
	slow   map[string]float64 // m/s, by drawn run that is used and slow
	bears  bool               // the suction is within the rating
	pull   float64            // Pa, the suction where it is nearest to the rating
	rating float64            // Pa
}

// trial is a drawing solved in every set.
type trial []outcome

// try solves a draft in the sets.
func (d *draft) try(sets []Set, state duct.State) (trial, error) {
	m, err := duct.New(d.Collector)
	if err != nil {
		return nil, err
	}
	judge := verdict.For(d.Collector)
	out := make(trial, len(sets))
	state.FilterRatio = d.filter
	var r duct.Result
	for i, s := range sets {
		state.Setting = s.Setting
		if err := m.Renew(&r, state, nil); err != nil {
			return nil, fmt.Errorf("with %s: %w", s.Name(), err)
		}
		out[i] = d.outcome(&r, judge.Of(&r))
	}
	return out, nil
}

func (d *draft) outcome(r *duct.Result, v verdict.Verdict) outcome {
	o := outcome{bears: v.Bears(), pull: v.Suction, rating: v.Rating}
	for _, m := range r.Machines {
		o.flow = append(o.flow, m.Flow)
		o.open = append(o.open, m.Open)
	}
	for _, s := range v.Slow {
		if o.slow == nil {
			o.slow = map[string]float64{}
		}
		name := d.drawn(s.Run)
		if was, known := o.slow[name]; !known || s.Velocity < was {
			o.slow[name] = s.Velocity
		}
	}
	return o
}

// tried is a change with the draft that it makes and what that does.
type tried struct {
	change
	draft *draft
	trial trial
	err   error
}

// tryAll solves each change on its own, on all processors. The answer is in the order of the changes.
func tryAll(from *draft, list []change, sets []Set, state duct.State) []tried {
	out := make([]tried, len(list))
	var at atomic.Int64
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(list)) {
		workers.Go(func() {
			for i := int(at.Add(1)) - 1; i < len(list); i = int(at.Add(1)) - 1 {
				out[i] = tryOne(from, list[i], sets, state)
			}
		})
	}
	workers.Wait()
	return out
}

func tryOne(from *draft, ch change, sets []Set, state duct.State) tried {
	t := tried{change: ch, draft: from.with(ch)}
	t.trial, t.err = t.draft.try(sets, state)
	return t
}

// bareFlow (m³/s) is what the collector moves without any ducts: an open end, as wide as a room, at its inlet. No change
// of the ducts can make it move more. Infinite, where that has no answer.
func bareFlow(d *draft, state duct.State) float64 {
	const wide = 1.0 // m
	open := *d.Collector
	open.Selectors, open.Gates, open.Sensors = nil, nil, nil
	open.Machines = []*shop.Machine{{Name: "open end", Needs: math.NaN()}}
	open.Network = &shop.Network{Runs: []*shop.Run{{
		Name: "open end", From: shop.End{Kind: shop.EndMachine, Name: "open end"}, To: shop.End{Kind: shop.EndCollector},
		Diameter: wide, Length: 0.1, Stretch: 1,
	}}}
	m, err := duct.New(&open)
	if err != nil {
		return math.Inf(1)
	}
	state.Setting = shop.Setting{}
	state.FilterRatio = d.filter
	r, err := m.Solve(state)
	if err != nil {
		return math.Inf(1)
	}
	return r.FanFlow
}

package draw

import (
	"math"
	"sort"
	"strings"

	"ductward/internal/duct"
	"ductward/internal/estimate"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Solved makes the sheet of a state that the duct model has solved. The collector must have a drawing, and the result
// must be of that state.
func Solved(c *shop.Collector, st duct.State, r *duct.Result) *Sheet {
	nan := estimate.Value{V: math.NaN(), SE: math.NaN()}
	now := estimate.Now{FanOn: true, Settled: true, Flow: estimate.Value{V: r.FanFlow}, Filter: nan, Leakage: nan}
	for name, open := range st.Setting.Open {
		if open {
			now.Open = append(now.Open, name)
		}
	}
	sort.Strings(now.Open)
	for _, m := range r.Machines {
		now.Machines = append(now.Machines, estimate.MachineAir{Machine: m.Name, Open: m.Open, Flow: estimate.Value{V: m.Flow}, Needs: m.Needs})
	}
	slow := map[string]bool{}
	for _, s := range verdict.Of(c, r).Slow {
		slow[s.Run] = true
	}
	for _, f := range r.Runs {
		now.Runs = append(now.Runs, estimate.RunAir{Run: f.Name, Flow: f.Flow, Velocity: f.Velocity, Static: f.StaticEnd, Settles: slow[f.Name]})
	}
	s := &Sheet{Collector: c, Now: now, Notes: r.Warnings,
		Plant: Plant{Inlet: r.InletStatic, Separator: r.SeparatorLoss, Filter: r.FilterDrop, Rise: r.FanRise}}
	s.Leaks = s.added(st.Leaks, r)
	return s
}

// added are the leaks beside those of the design, with what flows in at their parts.
func (s *Sheet) added(leaks []duct.Leak, r *duct.Result) []SheetLeak {
	var out []SheetLeak
	done := map[string]bool{}
	for _, leak := range leaks {
		for _, f := range r.Leaks {
			if f.Part == leak.Part && !done[f.Part] {
				done[f.Part] = true
				out = append(out, SheetLeak{Part: f.Part, Words: leakWord(f.Part) + s.Figures.flow(f.Flow)})
			}
		}
	}
	return out
}

// leakWord says what leaks.
func leakWord(part string) string {
	if strings.HasPrefix(part, "seat:") {
		return "past the gate "
	}
	return "leak "
}

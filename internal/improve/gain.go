package improve

import (
	"cmp"
	"math"
	"slices"

	"ductward/internal/shop"
)

// Gain is what a change brings one machine, at the spots that count for it.
type Gain struct {
	Machine string
	Air     float64 // m³/s, the mean over them
	Worst   Set     // in which it was worst off
	Before  float64 // m³/s, there
	After   float64 // m³/s, there
	Needs   float64 // m³/s
	Sets    int     // how many there are
	Served  int     // in how many of them it has its need now
}

// gains of a change over the drawing before it, by machine in the order of the shop file, and their sum.
func (a aim) gains(c *shop.Collector, sets []Set, before, after trial) (list []Gain, sum float64) {
	for k, m := range c.Machines {
		g := Gain{Machine: m.Name, Needs: m.Needs}
		for _, s := range a.spots {
			if s.machine != k {
				continue
			}
			was, is := before[s.set].flow[k], after[s.set].flow[k]
			g.Air += is - was
			g.Sets++
			if is >= m.Needs {
				g.Served++
			}
			if g.Sets == 1 || was < g.Before {
				g.Worst, g.Before, g.After = sets[s.set], was, is
			}
		}
		if g.Sets > 0 {
			g.Air /= float64(g.Sets)
			sum += g.Air
			list = append(list, g)
		}
	}
	return list, sum
}

// Loss is what a change takes from one machine, where it takes most.
type Loss struct {
	Machine       string
	Set           Set
	Before, After float64 // m³/s
	Needs         float64 // m³/s; NaN: not stated
	NewlyShort    bool    // it had its need there, and has it no more
}

// telling is the share of a machine's air from which a loss is told.
const telling = 0.01

// losses tells, by machine in the order of the shop file, where a change takes most: where the machine becomes short, if
// it does, and otherwise only what is worth telling.
func losses(c *shop.Collector, sets []Set, before, after trial) []Loss {
	var out []Loss
	for k, m := range c.Machines {
		var worst *Loss
		for i := range sets {
			was, is := before[i].flow[k], after[i].flow[k]
			if !before[i].open[k] || !(is < was) {
				continue
			}
			l := Loss{Machine: m.Name, Set: sets[i], Before: was, After: is, Needs: m.Needs, NewlyShort: was >= m.Needs && is < m.Needs}
			if !l.NewlyShort && was-is < telling*was {
				continue
			}
			if worst == nil || l.NewlyShort && !worst.NewlyShort || l.NewlyShort == worst.NewlyShort && was-is > worst.Before-worst.After {
				worst = &l
			}
		}
		if worst != nil {
			out = append(out, *worst)
		}
	}
	return out
}

// Against is a reason not to do a change.
type Against struct {
	Set      Set
	Run      string  // where dust would settle; "": the suction is too much for the ducts
	Velocity float64 // m/s there, slower than what carries the dust
	Before   float64 // m/s before the change, where it was slow already; NaN: it carried
	Suction  float64 // Pa, and what the ducts are rated to bear
	Rating   float64
}

// against gives the reasons: suction that the ducts do not bear, runs in which dust settles where it did not before, and
// runs that were made wider and are too slow, before or not; those of sets that do not count last, and of each kind the
// slowest first. In a set that does not count, since no ducts could serve it, a run that is too slow already is no reason.
func against(d *draft, original *shop.Collector, sets []Set, before, after trial) []Against {
	var out []Against
	widened := d.widened(original)
	for i := range sets {
		for run, velocity := range after[i].slow {
			was, slow := before[i].slow[run]
			if slow && !(widened[run] && sets[i].Counts()) {
				continue
			}
			if !slow {
				was = notKnown
			}
			out = append(out, Against{Set: sets[i], Run: run, Velocity: velocity, Before: was})
		}
		if before[i].bears && !after[i].bears {
			out = append(out, Against{Set: sets[i], Suction: after[i].pull, Rating: after[i].rating})
		}
	}
	slices.SortFunc(out, func(a, b Against) int {
		return cmp.Or(cmp.Compare(a.rank(), b.rank()), cmp.Compare(a.Velocity, b.Velocity), cmp.Compare(len(a.Set.Machines), len(b.Set.Machines)),
			cmp.Compare(a.Set.Name(), b.Set.Name()), cmp.Compare(a.Run, b.Run))
	})
	return out
}

// rank orders reasons, the plainest first.
func (g Against) rank() int {
	switch {
	case !g.Set.Counts():
		return 3
	case g.Run == "":
		return 0
	case math.IsNaN(g.Before):
		return 1
	}
	return 2
}

// widened lists the drawn runs that have a larger diameter, or a part that has, than in the drawing before.
func (d *draft) widened(before *shop.Collector) map[string]bool {
	out := map[string]bool{}
	for _, r := range d.Network.Runs {
		if was := before.Run(d.drawn(r.Name)); was != nil && wider(r.Diameter, was.Diameter) {
			out[d.drawn(r.Name)] = true
		}
	}
	return out
}

package estimate

import (
	"cmp"
	"slices"
	"sort"

	"ductward/internal/steady"
)

// How many machines are open at once, where nothing is known of a shop: the share of its runs with none, one, two, three
// and more (common practice, no source). A record of its own takes their place.
var usualOpen = [...]float64{0.12, 0.53, 0.27, 0.07, 0.01}

// The bounds of the candidates.
const (
	unseenMost    = 300  // in all
	unseenPairsOf = 16   // machines, up to which all pairs are candidates
	unseenThreeOf = 10   // and all that are open three at once
	unseenNear    = 6    // sets of the run before whose neighbours are candidates
	unseenSeen    = 120  // sets of the record, those most in use
	unseenBelief  = 40.0 // runs' worth of belief in usualOpen
)

// candidateSet is one of the sets that a run may have.
type candidateSet struct {
	set    gateSet
	wanted []int // machines, by their number among the columns
}

// possible lists the gate sets that a run may have, from those that come to mind first on, within bounds: none open,
// each machine alone, what the shop has run, what one move or a swap makes of the last, and pairs.
func (e *Estimator) possible(u *unseen, r *steady.Run) []candidateSet {
	free := e.movable(r)
	g := &gathering{e: e, r: r, has: map[string]bool{}}
	g.add(nil)
	for _, m := range free {
		g.add([]int{m})
	}
	for _, s := range u.mostUsed(unseenSeen) {
		g.add(within(s, free))
	}
	for _, near := range u.tracker.Likely(unseenNear) {
		near = within(near, free)
		g.add(near)
		for _, m := range free {
			g.add(toggled(near, m))
		}
		for _, out := range near {
			for _, in := range free {
				if !slices.Contains(near, in) {
					g.add(toggled(toggled(near, out), in))
				}
			}
		}
	}
	for i, a := range free {
		for j, b := range free[:i] {
			if len(free) <= unseenPairsOf {
				g.add([]int{b, a})
			}
			for _, c := range free[:j] {
				if len(free) <= unseenThreeOf {
					g.add([]int{c, b, a})
				}
			}
		}
	}
	return g.sets
}

// opening is what opens one machine to the collector.
type opening struct {
	gates map[string]bool // gates that never move among them
	ports map[string]int  // by selector
	ok    bool            // false: a gate on its way is always shut
}

// openings returns what opens each machine, by its number among the columns. It is read off the shop file once.
func (e *Estimator) openings() []opening {
	if e.opens != nil {
		return e.opens
	}
	e.opens = make([]opening, len(e.cols.machines))
	for i, name := range e.cols.machines {
		if st, err := e.collector.SettingFor([]string{name}); err == nil {
			e.opens[i] = opening{gates: st.Open, ports: st.Port, ok: true}
		}
	}
	return e.opens
}

// movable lists the machines whose way to the collector is not wholly known in a run.
func (e *Estimator) movable(r *steady.Run) []int {
	var out []int
	for i, o := range e.openings() {
		moves := slices.ContainsFunc(r.Unknown, func(name string) bool { return o.gates[name] || o.ports[name] > 0 })
		if o.ok && moves {
			out = append(out, i)
		}
	}
	return out
}

// gathering is a row of candidates in the making.
type gathering struct {
	e    *Estimator
	r    *steady.Run
	has  map[string]bool
	sets []candidateSet
}

// add takes in a set of machines, if it can be and is new.
func (g *gathering) add(wanted []int) {
	if len(g.sets) >= unseenMost {
		return
	}
	set, ok := g.e.settingWith(g.r, wanted)
	if !ok || g.has[set.key] {
		return
	}
	g.has[set.key] = true
	g.sets = append(g.sets, candidateSet{set, wanted})
}

// settingWith returns the gate set of a run whose unknown gates and selectors are as some machines need them, and shut
// else. What is known stays as it is.
func (e *Estimator) settingWith(r *steady.Run, wanted []int) (gateSet, bool) {
	open, ports := map[string]bool{}, map[string]int{}
	for _, m := range wanted {
		o := &e.openings()[m]
		if !o.ok {
			return gateSet{}, false
		}
		for g := range o.gates {
			open[g] = true
		}
		for s, p := range o.ports {
			if at, ok := ports[s]; ok && at != p {
				return gateSet{}, false // two machines on one hose
			}
			ports[s] = p
		}
	}
	as := steady.Run{Kind: r.Kind}
	for _, g := range e.collector.Gates {
		known := !slices.Contains(r.Unknown, g.Name)
		if known && slices.Contains(r.Open, g.Name) || !known && open[g.Name] {
			as.Open = append(as.Open, g.Name)
		}
	}
	sort.Strings(as.Open)
	for _, p := range r.Ports {
		if slices.Contains(r.Unknown, p.Selector) {
			p.Port = ports[p.Selector]
			if p.Port == 0 && len(e.gatesBehind[p.Selector]) > 0 {
				p.Port = 1
			}
		}
		as.Ports = append(as.Ports, p)
	}
	slices.SortFunc(as.Ports, func(a, b steady.Port) int { return cmp.Compare(a.Selector, b.Selector) })
	return e.newGateSet(&as), true
}

// settingOf returns the gate set of a run as if just some machines drew air in it, whatever its gates are told.
func (e *Estimator) settingOf(o *observation, machines []int) (gateSet, bool) {
	as := *o.run
	as.Unknown, as.Open = nil, nil
	for _, g := range e.collector.Gates {
		as.Unknown = append(as.Unknown, g.Name)
	}
	return e.settingWith(&as, machines)
}

// within returns those of some machines that are among others, both ascending.
func within(s, free []int) []int {
	var out []int
	for _, m := range s {
		if slices.Contains(free, m) {
			out = append(out, m)
		}
	}
	return out
}

// toggled returns a set of machines with one more, or one less.
func toggled(s []int, m int) []int {
	if i := slices.Index(s, m); i >= 0 {
		return slices.Delete(slices.Clone(s), i, i+1)
	}
	out := append(slices.Clone(s), m)
	slices.Sort(out)
	return out
}

// usual returns how usual each candidate is, and the share of what is usual that the candidates leave out.
func (u *unseen) usual(sets []candidateSet, free int) (usual []float64, missing float64) {
	record := u.runs / (u.runs + unseenBelief)
	inSize, fresh := make([]float64, len(usualOpen)), make([]float64, len(usualOpen))
	for _, s := range sets {
		k := sizeClass(s.wanted)
		inSize[k]++
		if u.used[s.set.key] == 0 {
			fresh[k]++
		}
	}
	habits := u.habits()
	covered := 0.0
	for _, s := range sets {
		k := sizeClass(s.wanted)
		h, all := &habits[k], max(choose(free, k), inSize[k], 1)
		w := (1 - record) * usualOpen[k] / all
		if n := u.used[s.set.key]; n > 0 {
			w += record * (n - h.discount) / u.runs
		} else if h.kinds > 0 {
			w += record * h.discount * h.kinds / u.runs / max(all-h.kinds, fresh[k], 1)
		}
		covered += w
		usual = append(usual, max(w, 1e-9))
	}
	return usual, 1 - min(covered+(1-record)*beyond(free), 1)
}

// habit is what the record says of the sets of one size that are still to come.
type habit struct {
	kinds    float64 // different ones that were run
	discount float64 // runs of each that are left to those never run so far
}

// mostDiscount bounds what is left to what was never run where nearly all that was run was run once.
const mostDiscount = 0.75

// habits counts, by size, how many sets were run once and twice. A shop whose sets come once or twice each will go on
// running new ones, as many in a hundred runs as were seen once: what each set was run is discounted by n₁/(n₁ + 2·n₂), and
// that is shared by the others (Ney, Essen and Kneser 1994, Computer Speech and Language 8, from memory).
func (u *unseen) habits() []habit {
	once, twice := make([]float64, len(usualOpen)), make([]float64, len(usualOpen))
	out := make([]habit, len(usualOpen))
	for key, n := range u.used {
		k := sizeClass(u.sets[key])
		out[k].kinds++
		switch n {
		case 1:
			once[k]++
		case 2:
			twice[k]++
		}
	}
	for k := range out {
		if once[k] > 0 {
			out[k].discount = min(once[k]/(once[k]+2*twice[k]), mostDiscount)
		}
	}
	return out
}

// sizeClass is the index in usualOpen of a set of machines.
func sizeClass(machines []int) int { return min(len(machines), len(usualOpen)-1) }

// beyond is the share of usualOpen that a shop of few machines cannot have.
func beyond(free int) float64 {
	sum := 0.0
	for k := free + 1; k < len(usualOpen); k++ {
		sum += usualOpen[k]
	}
	return sum
}

// choose returns n over k.
func choose(n, k int) float64 {
	out := 1.0
	for i := range k {
		out *= float64(n-i) / float64(i+1)
	}
	return out
}

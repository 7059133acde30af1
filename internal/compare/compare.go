package compare

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Ask is what is asked of two drawings.
type Ask struct {
	Open  [][]string    // sets of names; none: the sensible ones
	State [2]duct.State // filter, fan and air, by drawing; the settings are not used
}

// Of holds the second drawing of a collector against the first. A *NameError says that a set cannot be opened as asked.
func Of(first, second *shop.Collector, ask Ask) (*Answer, error) {
	c := [2]*shop.Collector{first, second}
	d := &drawings{collector: c, state: ask.State}
	for side := range c {
		m, err := duct.New(c[side])
		if err != nil {
			return nil, fmt.Errorf("%s drawing: %w", ordinal[side], err)
		}
		d.model[side], d.judge[side] = m, verdict.For(c[side])
	}
	d.pairs = pairAll(first, second)
	sets, whole, err := d.sets(ask.Open)
	if err != nil {
		return nil, err
	}
	a := d.answer()
	a.AllPairs = whole
	for i := range sets {
		s, err := d.solve(&sets[i])
		if err != nil {
			return nil, err
		}
		a.Sets = append(a.Sets, *s)
	}
	a.Machines = d.machines(a.Sets)
	return a, nil
}

// drawings are the two that are compared.
type drawings struct {
	collector [2]*shop.Collector
	model     [2]*duct.Model
	judge     [2]*verdict.Judge
	state     [2]duct.State
	last      [2]*duct.Result // the set before, to start from
	pairs     pairings
}

func (d *drawings) sets(open [][]string) (sets []set, whole bool, err error) {
	if len(open) == 0 {
		sets, whole = d.pairs.sensible(d.collector)
		return sets, whole, nil
	}
	for _, names := range open {
		s, err := d.pairs.asked(d.collector, names)
		if err != nil {
			return nil, false, &NameError{err}
		}
		sets = append(sets, s)
	}
	return sets, true, nil
}

// answer holds what is known before anything is solved.
func (d *drawings) answer() *Answer {
	a := &Answer{
		Collector: d.collector[1].Name, Least: [2]float64{d.judge[0].Least, d.judge[1].Least},
		OnlyMachines: d.pairs.machines.only, OnlyGates: d.pairs.gates.only, OnlySelectors: d.pairs.selectors.only,
	}
	if was := d.collector[0].Name; was != a.Collector {
		a.Was = was
	}
	for _, of := range []struct {
		pairing
		parts []named
	}{
		{d.pairs.machines, machines(d.collector[0])}, {d.pairs.gates, gates(d.collector[0])},
		{d.pairs.selectors, selectors(d.collector[0])},
	} {
		for _, p := range of.parts {
			if now, ok := of.second[p.name]; ok && now != p.name {
				a.Renamed = append(a.Renamed, [2]string{p.name, now})
			}
		}
	}
	return a
}

// solve solves a set in both drawings.
func (d *drawings) solve(s *set) (*Set, error) {
	out := &Set{Asked: s.label, Missing: s.missing, alone: s.alone}
	var r [2]*duct.Result
	for side := range d.model {
		if !s.in[side] {
			continue
		}
		st := d.state[side]
		st.Setting = s.setting[side]
		var err error
		if r[side], err = d.model[side].Warm(st, d.last[side]); err != nil {
			return nil, fmt.Errorf("%s drawing: %w", ordinal[side], err)
		}
		d.last[side] = r[side]
		out.Sides[side] = &Side{
			FanFlow: r[side].FanFlow, FanRise: r[side].FanRise, FilterDrop: r[side].FilterDrop,
			Verdict: d.judge[side].Of(r[side]),
		}
	}
	d.change(out, r)
	return out, nil
}

// change tells what the set gives to whom in each drawing.
func (d *drawings) change(out *Set, r [2]*duct.Result) {
	for _, c := range d.changes(r) {
		if c.Open[0] || c.Open[1] {
			out.Machines = append(out.Machines, c.Machine)
			out.Changes = append(out.Changes, c)
		}
	}
	if r[0] == nil || r[1] == nil {
		return
	}
	var slow [2][]string // by the second drawing's names; what only the first one has is gone and tells nothing
	for _, run := range out.Sides[0].Verdict.Slow {
		if now, ok := d.pairs.runs.second[run.Run]; ok {
			slow[0] = append(slow[0], now)
		}
	}
	for _, run := range out.Sides[1].Verdict.Slow {
		slow[1] = append(slow[1], run.Run)
	}
	out.NowSlow, out.NowCarry = beyond(slow[1], slow[0]), beyond(slow[0], slow[1])
}

// beyond lists the names that are not among others.
func beyond(names, others []string) []string {
	var out []string
	for _, n := range names {
		if !slices.Contains(others, n) {
			out = append(out, n)
		}
	}
	return out
}

// changes lists what each machine gets in both results, those of the second drawing first, then those that only the
// first one has.
func (d *drawings) changes(r [2]*duct.Result) []Change {
	var out []Change
	flow := func(c *Change, side int, name string) {
		c.Needs[side], c.Flow[side] = math.NaN(), math.NaN()
		if m := d.collector[side].Machine(name); m != nil {
			c.Needs[side] = m.Needs
		}
		if r[side] == nil {
			return
		}
		for _, m := range r[side].Machines {
			if m.Name == name {
				c.Open[side], c.Flow[side] = m.Open, m.Flow
			}
		}
	}
	for _, m := range d.collector[1].Machines {
		c := Change{Machine: m.Name}
		flow(&c, 0, d.pairs.machines.first[m.Name])
		flow(&c, 1, m.Name)
		out = append(out, c)
	}
	for _, name := range d.pairs.machines.only[0] {
		c := Change{Machine: name}
		flow(&c, 0, name)
		flow(&c, 1, "")
		out = append(out, c)
	}
	return out
}

// machines sums up what becomes of each machine that both drawings have.
func (d *drawings) machines(sets []Set) []Machine {
	var out []Machine
	for _, m := range d.collector[1].Machines {
		was, both := d.pairs.machines.first[m.Name]
		if !both {
			continue
		}
		s := Machine{Name: m.Name, Needs: [2]float64{d.collector[0].Machine(was).Needs, m.Needs}}
		if was != m.Name {
			s.Was = was
		}
		for i := range sets {
			s.count(&sets[i])
		}
		out = append(out, s)
	}
	return out
}

// count adds a set to what becomes of a machine.
func (m *Machine) count(s *Set) {
	i := slices.IndexFunc(s.Changes, func(c Change) bool { return c.Machine == m.Name })
	if i < 0 || !s.Changes[i].Open[0] || !s.Changes[i].Open[1] {
		return
	}
	c := s.Changes[i]
	if s.alone == m.Name || len(s.Machines) == 1 {
		m.Alone = &c
	}
	if m.Sets == 0 || c.Share() < m.Least.Share() {
		m.Least, m.LeastIn = c, s.Machines
	}
	if m.Sets == 0 || c.Share() > m.Most.Share() {
		m.Most, m.MostIn = c, s.Machines
	}
	m.Sets++
	for side := range m.Short {
		if c.Short(side) {
			m.Short[side]++
		}
	}
	if c.NowShort() {
		m.NowShort++
	}
	if c.NowFed() {
		m.NowFed++
	}
}

package balance

import (
	"fmt"
	"slices"

	"ductward/internal/verdict"
)

// machine tells when one machine can be served, and where it cannot, why.
func (b *board) machine(i int, fine, fed sets) (Machine, error) {
	m := Machine{Name: b.collector.Machines[i].Name, Needs: b.collector.Machines[i].Needs, Served: Never}
	if err := b.ways.locked[i]; err != nil {
		m.Why = fmt.Sprintf("it cannot be joined to the collector: %v", err)
		return m, nil
	}
	alone := set{}
	w := b.ways.wayOf(i)
	if w >= 0 {
		alone = alone.with(w)
	}
	for _, bench := range b.benches {
		f, err := bench.fare(alone)
		if err != nil {
			return m, fmt.Errorf("with %s open: %w", m.Name, err)
		}
		m.Alone = append(m.Alone, f)
	}
	with := holding(fine.all, w)
	for _, s := range with {
		m.Sets++
		m.Most = max(m.Most, len(b.ways.machines(s)))
	}
	b.serve(&m, alone, sets{holding(fine.first, w), with}, sets{holding(fed.first, w), holding(fed.all, w)})
	b.why(&m, alone, w)
	return m, nil
}

// holding lists the sets that hold a way; -1 stands for the ways that are always open.
func holding(sets []set, way int) []set {
	if way < 0 {
		return sets
	}
	return slices.DeleteFunc(slices.Clone(sets), func(s set) bool { return !s.has(way) })
}

// serve says how the machine can be served, from the sets that it is in.
func (b *board) serve(m *Machine, alone set, fine, fed sets) {
	switch {
	case slices.Contains(fine.all, alone):
		m.Served = Alone
	case len(fine.all) > 0:
		m.Served = WithOther
		for _, s := range minimal(fine.all) {
			m.With = append(m.With, b.others(s, alone))
		}
	case len(fine.first) > 0:
		m.Served = FirstOnly
	case len(fed.all) > 0:
		m.Served = AirOnly
	case len(fed.first) > 0:
		m.Served = AirFirst
	}
}

// others names the machines of a set that are not open with a smaller one.
func (b *board) others(s, without set) []string {
	skip := b.ways.machines(without)
	var out []string
	for _, i := range b.ways.machines(s) {
		if !slices.Contains(skip, i) {
			out = append(out, b.collector.Machines[i].Name)
		}
	}
	return out
}

// why words what stands in the way of a machine by itself, and of a machine that cannot be served in any set.
func (b *board) why(m *Machine, alone set, way int) {
	if m.Served == Alone {
		return
	}
	at := 0 // the first resistance at which there is something to tell
	if m.Served == FirstOnly || m.Alone[0].Fine {
		at = len(b.benches) - 1
	}
	m.Why = m.Alone[at].Wrong
	if at > 0 {
		m.Why = "with the filter at its limit, " + m.Why
	}
	if m.Served == WithOther {
		return
	}
	b.path(m, alone, at)
	b.nearest(m, alone, way, at)
	if m.Served == AirFirst {
		last := len(b.benches) - 1
		m.Why += "; with the filter at its limit, " + m.Alone[last].Wrong
		b.path(m, alone, last)
	}
}

// path adds what costs a machine most that lacks air even by itself.
func (b *board) path(m *Machine, alone set, at int) {
	r, v, err := b.benches[at].solve(alone)
	if err != nil || !slices.ContainsFunc(v.Short, func(s verdict.Short) bool { return s.Machine == m.Name }) {
		return
	}
	if p, err := b.benches[at].model.Explain(r, m.Name); err == nil {
		m.Why += "; " + costliest(p)
	}
}

// nearest adds the set with the machine in which least is wrong, where that is not the machine by itself. Where it can
// have its air, only sets count in which everybody has it.
func (b *board) nearest(m *Machine, alone set, way, at int) {
	search, best, found := b.searches[at], set{}, false
	for _, s := range search.order {
		o := search.found[s]
		if way >= 0 && !s.has(way) || o.fine || m.Served != Never && !o.fed {
			continue
		}
		if !found || o.miss < search.found[best].miss-alike {
			best, found = s, true
		}
	}
	if !found || best == alone {
		return
	}
	if f, err := b.benches[at].fare(best); err == nil && f.Wrong != "" {
		m.Why += fmt.Sprintf("; it comes closest with %s open as well, and then %s", list(b.others(best, alone)), f.Wrong)
	}
}

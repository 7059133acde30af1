package improve

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Set is one set of open gates in which the shop is judged.
type Set struct {
	Setting  shop.Setting
	Machines []string // that are open, in the order of the shop file
	Asked    bool     // by the owner, so that it counts whatever the collector can do
	Beyond   bool     // the machines need more than the collector moves without any ducts: no change serves them all
	Needs    float64  // m³/s that its machines state together

	missing []string // machines of the collector that are not open
}

// many is the number of machines from which a set is told by those that are missing.
const many = 4

// Name is the set in words.
func (s Set) Name() string {
	switch {
	case len(s.Machines) == 0:
		return "nothing open"
	case len(s.Machines) == 1:
		return s.Machines[0] + " alone"
	case len(s.Machines) >= many && len(s.missing) == 0:
		return "all machines together"
	case len(s.Machines) >= many && len(s.missing) < len(s.Machines)/2:
		return "all machines but " + list(s.missing) + " together"
	}
	return list(s.Machines)
}

// Beside is the set in words, from where one of its machines stands.
func (s Set) Beside(machine string) string {
	if i := slices.Index(s.Machines, machine); i >= 0 && len(s.Machines) > 1 && len(s.Machines) < many {
		return "with " + list(slices.Delete(slices.Clone(s.Machines), i, i+1)) + " open too"
	}
	if len(s.Machines) == 1 && s.Machines[0] == machine {
		return "alone"
	}
	return "with " + s.Name()
}

// UsualSets are each machine alone, each pair of machines, and all together. Machines that ask for the same selector or
// hose are never open together; instead of one set with all there are then as many as it takes for every machine to be in
// one. A machine whose gate is always shut is in none, and is told.
func UsualSets(c *shop.Collector) (sets []Set, locked []string) {
	b := setBuilder{c: c, seen: map[string]bool{}}
	var names []string
	for _, m := range c.Machines {
		if _, err := verdict.Opening(c, m.Name); err != nil {
			locked = append(locked, m.Name)
			continue
		}
		names = append(names, m.Name)
		b.add(m.Name)
	}
	for i, one := range names {
		for _, other := range names[i+1:] {
			b.add(one, other)
		}
	}
	covered := map[string]bool{}
	for _, first := range names {
		if covered[first] {
			continue
		}
		together := []string{first}
		for _, m := range names {
			if m != first && b.fits(append(slices.Clone(together), m)) {
				together = append(together, m)
			}
		}
		for _, m := range together {
			covered[m] = true
		}
		b.add(together...)
	}
	return b.sets, locked
}

type setBuilder struct {
	c    *shop.Collector
	seen map[string]bool
	sets []Set
}

func (b *setBuilder) fits(machines []string) bool {
	_, err := verdict.Opening(b.c, machines...)
	return err == nil
}

// add adds a set that can be and is not there yet.
func (b *setBuilder) add(machines ...string) {
	st, err := verdict.Opening(b.c, machines...)
	if err != nil || b.seen[settingKey(st)] {
		return
	}
	b.seen[settingKey(st)] = true
	b.sets = append(b.sets, Set{Setting: st})
}

// settingKey is the same for settings that are the same.
func settingKey(st shop.Setting) string {
	var parts []string
	for _, g := range slices.Sorted(maps.Keys(st.Open)) {
		if st.Open[g] {
			parts = append(parts, g)
		}
	}
	for _, s := range slices.Sorted(maps.Keys(st.Port)) {
		if st.Port[s] > 0 {
			parts = append(parts, fmt.Sprintf("%s=%d", s, st.Port[s]))
		}
	}
	return strings.Join(parts, "\n")
}

// list writes names as people say them.
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

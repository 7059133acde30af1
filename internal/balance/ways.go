package balance

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// way is what has to be moved for its machines to be joined to the collector.
type way struct {
	machines []int // by their numbers in the shop file
	gates    []string
	ports    map[string]int
}

// ways are those of a collector.
type ways struct {
	list   []way
	always []int         // machines that are joined without moving anything
	locked map[int]error // machines that cannot be joined, and why
	base   shop.Setting  // with nothing moved
	clash  []set         // by way: the ways that want one of its selectors at another port
}

// waysOf finds what has to be moved for each machine.
func waysOf(c *shop.Collector) (*ways, error) {
	base, err := verdict.Opening(c)
	if err != nil {
		return nil, err
	}
	w := &ways{base: base, locked: map[int]error{}}
	byKey := map[string]int{}
	for i, m := range c.Machines {
		st, err := verdict.Opening(c, m.Name)
		if err != nil {
			w.locked[i] = err
			continue
		}
		need := wayTo(st, base)
		key := need.key()
		at, known := byKey[key]
		switch {
		case key == "":
			w.always = append(w.always, i)
		case known:
			w.list[at].machines = append(w.list[at].machines, i)
		default:
			byKey[key] = len(w.list)
			need.machines = []int{i}
			w.list = append(w.list, need)
		}
	}
	if len(w.list) > most {
		return nil, fmt.Errorf("collector %q: %d machines can be opened one by one, and sets of them are looked at for up to %d", c.Name, len(w.list), most)
	}
	w.findClashes()
	return w, nil
}

// wayTo is what a setting moves beyond the base.
func wayTo(st, base shop.Setting) way {
	w := way{ports: st.Port}
	for g, open := range st.Open {
		if open && !base.Open[g] {
			w.gates = append(w.gates, g)
		}
	}
	slices.Sort(w.gates)
	return w
}

// key is the same for ways that ask for the same moves; names hold no line breaks.
func (w way) key() string {
	var parts []string
	parts = append(parts, w.gates...)
	for _, s := range slices.Sorted(maps.Keys(w.ports)) {
		parts = append(parts, fmt.Sprintf("%s=%d", s, w.ports[s]))
	}
	return strings.Join(parts, "\n")
}

func (w *ways) findClashes() {
	w.clash = make([]set, len(w.list))
	for a := range w.list {
		for b := range w.list {
			for s, port := range w.list[a].ports {
				if other, both := w.list[b].ports[s]; both && other != port {
					w.clash[a] = w.clash[a].with(b)
				}
			}
		}
	}
}

// clashes tells that a way wants a selector that the set has at another port.
func (w *ways) clashes(s set, i int) bool {
	for k := range s {
		if s[k]&w.clash[i][k] != 0 {
			return true
		}
	}
	return false
}

// setting opens the ways of a set.
func (w *ways) setting(s set) shop.Setting {
	st := shop.Setting{Open: maps.Clone(w.base.Open), Port: map[string]int{}}
	for _, i := range s.members() {
		for _, g := range w.list[i].gates {
			st.Open[g] = true
		}
		maps.Copy(st.Port, w.list[i].ports)
	}
	return st
}

// machines lists the machines of a set by their numbers, those that are always open among them.
func (w *ways) machines(s set) []int {
	out := slices.Clone(w.always)
	for _, i := range s.members() {
		out = append(out, w.list[i].machines...)
	}
	slices.Sort(out)
	return out
}

// wayOf is the way of a machine, -1 if it has none.
func (w *ways) wayOf(machine int) int {
	return slices.IndexFunc(w.list, func(x way) bool { return slices.Contains(x.machines, machine) })
}

package compare

import (
	"errors"
	"fmt"
	"strings"

	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// mostSets bounds how many sets are compared when none are asked for: pairs of about 30 machines.
const mostSets = 500

// set is one set of open gates in both drawings.
type set struct {
	label   string // as it was asked; "": chosen here
	alone   string // the one machine that it opens, by the second drawing's name; "": another set
	setting [2]shop.Setting
	in      [2]bool // whether the drawing is solved for it
	missing [2][]string
}

// asked turns names from the command line into a set. A name is one that either drawing knows; where the other drawing
// lacks the part, the set is without it there.
func (p *pairings) asked(c [2]*shop.Collector, names []string) (set, error) {
	s := set{label: strings.Join(names, ", "), in: [2]bool{true, true}}
	for side := range c {
		var mine []string
		for _, n := range names {
			here, err := p.translate(c, side, n)
			if err != nil {
				return set{}, err
			}
			if here == "" {
				s.missing[side] = append(s.missing[side], n)
				continue
			}
			mine = append(mine, here)
		}
		var err error
		if s.setting[side], err = c[side].SettingFor(mine); err != nil {
			return set{}, fmt.Errorf("%s drawing: %w", ordinal[side], err)
		}
	}
	return s, nil
}

var ordinal = [2]string{"first", "second"}

// translate gives a name as one drawing has it, "" where only the other drawing has the part.
func (p *pairings) translate(c [2]*shop.Collector, side int, name string) (string, error) {
	_, here := c[side].SettingFor([]string{name})
	if here == nil {
		return name, nil
	}
	_, there := c[1-side].SettingFor([]string{name})
	if there != nil {
		return "", errors.Join(here, there)
	}
	selector, port, isPort := strings.Cut(name, "=")
	if isPort {
		s, known := p.selectors.on(side, selector)
		if !known {
			return "", nil
		}
		for _, of := range []pairing{p.machines, p.runs} {
			if renamed, ok := of.on(side, port); ok {
				port = renamed
				break
			}
		}
		translated := s + "=" + port
		_, err := c[side].SettingFor([]string{translated})
		return translated, err
	}
	for _, of := range []pairing{p.machines, p.gates} {
		if renamed, ok := of.on(side, name); ok {
			return renamed, nil
		}
	}
	return "", nil
}

// on is the name in one drawing of a part that the other one has by this name.
func (p pairing) on(side int, name string) (string, bool) {
	by := p.first
	if side == 1 {
		by = p.second
	}
	out, ok := by[name]
	return out, ok
}

// sensible lists each machine alone, each pair, and as many as possible together. It tells whether all pairs are in.
func (p *pairings) sensible(c [2]*shop.Collector) (sets []set, whole bool) {
	var common [][2]string
	for _, m := range c[0].Machines {
		if other, ok := p.machines.second[m.Name]; ok {
			common = append(common, [2]string{m.Name, other})
		}
	}
	open := func(machines ...[2]string) (set, bool) {
		s := set{in: [2]bool{true, true}}
		for side := range c {
			var names []string
			for _, m := range machines {
				names = append(names, m[side])
			}
			var err error
			if s.setting[side], err = verdict.Opening(c[side], names...); err != nil {
				return set{}, false
			}
		}
		return s, true
	}
	add := func(machines ...[2]string) {
		if s, ok := open(machines...); ok {
			if len(machines) == 1 {
				s.alone = machines[0][1]
			}
			sets = append(sets, s)
		}
	}
	var together [][2]string
	for _, m := range common {
		add(m)
		if _, ok := open(append(together[:len(together):len(together)], m)...); ok {
			together = append(together, m)
		}
	}
	sets = append(sets, p.alone(c)...)
	whole = true
	for i := range common {
		for k := i + 1; k < len(common); k++ {
			if whole = whole && len(sets) < mostSets; whole {
				add(common[i], common[k])
			}
		}
	}
	if len(together) > 2 {
		add(together...)
	}
	return sets, whole
}

// alone lists the machines that only one drawing has, each alone there.
func (p *pairings) alone(c [2]*shop.Collector) []set {
	var sets []set
	for side := range c {
		for _, name := range p.machines.only[side] {
			setting, err := verdict.Opening(c[side], name)
			if err != nil {
				continue // it can never be opened, and so changes nothing
			}
			s := set{alone: name}
			s.in[side], s.setting[side] = true, setting
			sets = append(sets, s)
		}
	}
	return sets
}

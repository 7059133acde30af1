package compare

import (
	"slices"

	"ductward/internal/shop"
)

// named is a part of a drawing with its names.
type named struct {
	name string
	was  []string
}

// pairing says which names of two drawings are one part.
type pairing struct {
	second map[string]string // by the first drawing's name
	first  map[string]string // by the second drawing's name
	only   [2][]string       // names of parts that only one drawing has, in the order of its file
}

// pair finds which parts are the same. A name that both have goes before an earlier name.
func pair(first, second []named) pairing {
	p := pairing{second: map[string]string{}, first: map[string]string{}}
	join := func(same func(a, b named) bool) {
		for _, a := range first {
			for _, b := range second {
				if _, taken := p.second[a.name]; taken {
					break
				}
				if _, taken := p.first[b.name]; !taken && same(a, b) {
					p.second[a.name], p.first[b.name] = b.name, a.name
				}
			}
		}
	}
	join(func(a, b named) bool { return a.name == b.name })
	join(func(a, b named) bool { return slices.Contains(b.was, a.name) || slices.Contains(a.was, b.name) })
	for _, a := range first {
		if _, ok := p.second[a.name]; !ok {
			p.only[0] = append(p.only[0], a.name)
		}
	}
	for _, b := range second {
		if _, ok := p.first[b.name]; !ok {
			p.only[1] = append(p.only[1], b.name)
		}
	}
	return p
}

// pairings are those of all kinds of part of a collector.
type pairings struct{ machines, gates, selectors, runs pairing }

func pairAll(a, b *shop.Collector) pairings {
	return pairings{
		machines:  pair(machines(a), machines(b)),
		gates:     pair(gates(a), gates(b)),
		selectors: pair(selectors(a), selectors(b)),
		runs:      pair(runs(a), runs(b)),
	}
}

func machines(c *shop.Collector) []named {
	var out []named
	for _, m := range c.Machines {
		out = append(out, named{m.Name, m.Was})
	}
	return out
}

func gates(c *shop.Collector) []named {
	var out []named
	for _, g := range c.Gates {
		out = append(out, named{g.Name, g.Was})
	}
	return out
}

func selectors(c *shop.Collector) []named {
	var out []named
	for _, s := range c.Selectors {
		out = append(out, named{s.Name, s.Was})
	}
	return out
}

func runs(c *shop.Collector) []named {
	var out []named
	for _, r := range c.Network.Runs {
		out = append(out, named{r.Name, r.Was})
	}
	return out
}

// Collectors pairs the collectors of two shops that have a drawing, in the order of the second file, and names those
// that only one shop has, or has a drawing for.
func Collectors(first, second *shop.Shop) (pairs [][2]*shop.Collector, only [2][]string) {
	drawn := func(s *shop.Shop) []named {
		var out []named
		for _, c := range s.Collectors {
			if c.Network != nil {
				out = append(out, named{c.Name, c.Was})
			}
		}
		return out
	}
	p := pair(drawn(first), drawn(second))
	for _, c := range second.Collectors {
		if name, ok := p.first[c.Name]; ok {
			pairs = append(pairs, [2]*shop.Collector{first.Collector(name), c})
		}
	}
	return pairs, p.only
}

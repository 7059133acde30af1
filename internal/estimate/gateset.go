package estimate

import (
	"fmt"
	"strings"

	"ductward/internal/shop"
	"ductward/internal/steady"
)

// gateSet is a set of open gates and selector positions.
type gateSet struct {
	key     string
	setting shop.Setting
	open    []string // gates, sorted
	kind    steady.Kind

	flow     float64 // m³/s through the fan with a clean filter; 0: not yet known
	machines []int   // those that draw air, by their number among the columns; nil: not yet known
}

// newGateSet reads the gate set of a run. A selector behind a shut gate counts as joining its first port, whichever it
// joins: which machine a hose hangs on makes no difference to the air while its gate is shut.
func (e *Estimator) newGateSet(r *steady.Run) gateSet {
	g := gateSet{open: r.Open, kind: r.Kind, setting: shop.Setting{Open: map[string]bool{}, Port: map[string]int{}}}
	var b strings.Builder
	for _, name := range r.Open {
		g.setting.Open[name] = true
		b.WriteString(name)
		b.WriteByte('+')
	}
	for _, p := range r.Ports {
		if gates := e.gatesBehind[p.Selector]; len(gates) > 0 && !anyOpen(g.setting, gates) {
			p.Port = min(p.Port, 1)
		}
		g.setting.Port[p.Selector] = p.Port
		fmt.Fprintf(&b, "|%s=%d", p.Selector, p.Port)
	}
	g.key = b.String()
	return g
}

// name is what tells a set apart outside, never empty.
func (g gateSet) name() string { return "=" + g.key }

// anyOpen tells whether one of the gates is open.
func anyOpen(s shop.Setting, gates []string) bool {
	for _, g := range gates {
		if s.Open[g] {
			return true
		}
	}
	return false
}

// gatesBehindSelectors lists, for each selector, the gates that shut it off from the collector.
func gatesBehindSelectors(c *shop.Collector) map[string][]string {
	out := map[string][]string{}
	if c.Network == nil {
		return out
	}
	for _, s := range c.Selectors {
		name := leaving(c, shop.End{Kind: shop.EndSelector, Name: s.Name})
		for range len(c.Network.Runs) { // a ring has no end
			r := c.Run(name)
			if r == nil {
				break
			}
			if r.Gate != "" {
				out[s.Name] = append(out[s.Name], r.Gate)
				break
			}
			if name = r.To.Name; r.To.Kind != shop.EndRun {
				break // behind a junction the selector is joined to the trunk, whatever gates follow
			}
		}
	}
	return out
}

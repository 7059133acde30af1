package shop

import (
	"fmt"
	"slices"
)

// checkLoops reports runs that lead into each other in a ring without any junction.
func (p *parts) checkLoops(g *graph) {
	done := map[*Run]bool{}
	for _, first := range p.Network.Runs {
		var way []*Run
		for r := first; r != nil && !done[r]; r = p.next(r) {
			if i := slices.Index(way, r); i >= 0 {
				o := p.runs[way[i]]
				var names []string
				for _, w := range way[i:] {
					names = append(names, w.Name)
				}
				o.wrong(o.v, fmt.Sprintf("runs %s lead into each other in a ring", quoted(names)), "let the last of them lead to a junction or to the collector")
				break
			}
			way = append(way, r)
		}
		for _, r := range way {
			done[r] = true
		}
	}
}

func (p *parts) next(r *Run) *Run {
	if r.To.Kind != EndRun {
		return nil
	}
	return p.Collector.Run(r.To.Name)
}

// checkReach reports runs from which no way leads to the collector.
func (p *parts) checkReach(g *graph) {
	if p.broken {
		return
	}
	if len(g.in[End{Kind: EndCollector}]) == 0 && len(g.lost) == 0 && len(p.Network.Runs) > 0 {
		p.object.wrong(p.drawing, "no run leads to the collector", `write "to: collector" in the last run of the trunk`)
		return
	}
	reached := map[*Run]bool{}
	for again := true; again; {
		again = false
		for _, r := range p.Network.Runs {
			if !reached[r] && (g.lost[r] || r.To.Kind == EndCollector || slices.ContainsFunc(p.after(r), func(n *Run) bool { return reached[n] })) {
				reached[r], again = true, true
			}
		}
	}
	for _, r := range p.Network.Runs {
		if o := p.runs[r]; !reached[r] && !p.deadEnd(g, r) {
			o.wrong(o.get("to"), fmt.Sprintf("it leads to %q, and from there no way goes on to the collector", r.To.Name), "draw the way to the collector")
		}
	}
}

// deadEnd tells whether what a run leads to is reported by itself: a junction without a way out, a ring.
func (p *parts) deadEnd(g *graph, r *Run) bool {
	e := r.To
	if e.Kind == EndJunction || e.Kind == EndSelector {
		return len(g.out[e]) == 0
	}
	way := map[*Run]bool{}
	for n := r; n != nil; n = p.next(n) {
		if way[n] {
			return true
		}
		way[n] = true
	}
	return false
}

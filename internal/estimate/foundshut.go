package estimate

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/finding"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/whichopen"
)

// A gate that was entered as opened and never as shut is told open for hours or weeks in which it passes no air, and as many runs read
// as with another set of gates. It is found shut, and from then on its position counts as not known until it is told shut, or a run
// shows that it is open. A drop that is wholly plugged reads the same, but from the first run on after the gate was told to be opened:
// there the finding says so.

// hearGates takes in what a run is told with, and returns it as far as that is believed.
func (e *Estimator) hearGates(r steady.Run) steady.Run {
	e.endFoundShut(e.telling.hear(&r, e.cal != nil), &r)
	return e.telling.believed(r)
}

// endFoundShut ends the findings none of whose gates is doubted any longer.
func (e *Estimator) endFoundShut(gates []string, r *steady.Run) {
	for i := range e.findings {
		f := &e.findings[i]
		if f.Kind != finding.GateFoundShut || !f.Active() {
			continue
		}
		mine := gatesOf(f.Where)
		if slices.ContainsFunc(gates, func(g string) bool { return slices.Contains(mine, g) }) &&
			!slices.ContainsFunc(mine, func(g string) bool { return e.telling.Doubted[g] }) {
			f.Ended = r.At
		}
	}
}

// foundShut tells whether a run shows a gate shut that is told open. Such a run is left out.
func (e *Estimator) foundShut(o *observation, b whichopen.Belief, filter float64) bool {
	gates, sum := e.shutGates(o, b, filter)
	for _, g := range gates {
		e.telling.Shut[g.gate] = g.probability
	}
	if sum < leftOutBar || len(gates) == 0 {
		return false
	}
	if sum < alsoOpenBar {
		return true
	}
	e.open.foundOtherwise()
	sure := 0
	for sure < len(gates) && gates[sure].probability >= leftOpenSubject {
		e.tellFoundShut(o, gates[sure:sure+1])
		sure++
	}
	if sure == 0 {
		e.tellFoundShut(o, gates)
	}
	return true
}

// tellFoundShut raises the finding of one gate, or of one of several, and doubts what is told of them.
func (e *Estimator) tellFoundShut(o *observation, gates []shutGate) {
	var names []string
	var places []finding.Place
	was, total, flow := true, 0.0, 0.0
	for _, g := range gates {
		names = append(names, g.gate)
		was = was && e.wasOpen(g.machine, o.run)
		total, flow = total+g.probability, flow+g.probability*g.flow
		e.telling.Doubted[g.gate] = true
	}
	for _, g := range gates {
		places = append(places, finding.Place{Part: "seat:" + g.gate, Probability: g.probability / total})
	}
	flow /= total
	subject, what := "", "one of them"
	if len(gates) == 1 {
		subject, what = names[0], names[0]
	}
	f, se := e.gateFinding(finding.GateFoundShut, o, subject, places, flow)
	f.Priority = e.foundShutPriority(names, was)
	f.Text = fmt.Sprintf("With %s told open, the pressures are those of %s shut: %s less air (%.0f %% sure).",
		listWords(o.run.Open), what, flowWords(flow, se), math.Floor(100*min(total, 1)))
	if subject == "" {
		f.Text += " Which one they do not tell: " + listWords(names[:min(len(names), 4)]) + "."
	}
	if was {
		f.Text += " It was open before."
	} else {
		f.Text += " It has passed no air since it was told to be open: perhaps its drop is plugged."
	}
	f.Text += " Until it is told shut, the pressures tell how it stands, where they do so surely."
	f.Evidence = "The pressures of a run in which it was told open. The run is left out of the estimate."
	e.findings = append(e.findings, f)
}

// foundShutPriority: a hand that forgot to enter that a gate was shut asks for nothing, a switch that says what is not so, or a plug,
// for a look.
func (e *Estimator) foundShutPriority(gates []string, was bool) finding.Priority {
	if !was {
		return finding.Plan
	}
	for _, g := range e.collector.Gates {
		if slices.Contains(gates, g.Name) && (g.Position == nil || g.Position.Kind != shop.SourceByHand) {
			return finding.Plan
		}
	}
	return finding.Journal
}

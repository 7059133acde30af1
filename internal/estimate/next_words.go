package estimate

import (
	"fmt"
	"math"
	"strings"
)

// proposal puts a set of gates and what it should tell into words.
func (e *Estimator) proposal(p *predictor, r *ranked) Proposal {
	a := r.advice
	out := Proposal{Open: append([]string{}, r.set.open...), Ports: e.portsOf(r.set), Duration: a.Duration, Gain: a.Gain / math.Ln2,
		Likeliest: a.Likeliest, Seen: e.cal.bias[r.set.key] != nil, set: r.set}
	k := a.Contrast
	if k.A == k.B {
		return out
	}
	v, err := e.nextView(r.set)
	if err != nil {
		return out
	}
	c := p.channelsNow()[k.Channel]
	pa := p.expect(r.set, v)[c]
	out.Channel, out.Shift, out.SD = e.cols.channels[c], k.Shift*pa, k.SD*pa
	out.Parts = [2]string{e.cols.part(p.cols[k.A]), e.cols.part(p.cols[k.B])}
	out.Reason = e.whyWords(&out)
	return out
}

// portsOf returns the positions of the selectors that matter to a set of gates: those behind an open gate.
func (e *Estimator) portsOf(g *gateSet) map[string]int {
	out := map[string]int{}
	for name, port := range g.setting.Port {
		if behind := e.gatesBehind[name]; port > 0 && (len(behind) == 0 || anyOpen(g.setting, behind)) {
			out[name] = port
		}
	}
	return out
}

// whyWords says which two places a test parts, and by what.
func (e *Estimator) whyWords(p *Proposal) string {
	return fmt.Sprintf("With these gates %s should read %s otherwise if it is %s than if it is %s; %d minutes tell that to ± %s.",
		strings.TrimPrefix(p.Channel, e.collector.Name+"/"), paWords(math.Abs(p.Shift)), partWords(p.Parts[0]), partWords(p.Parts[1]),
		int(p.Duration.Minutes()), paWords(p.SD))
}

// paWords writes a small pressure to two digits or so.
func paWords(v float64) string {
	if v >= 10 {
		return fmt.Sprintf("%.0f Pa", v)
	}
	return fmt.Sprintf("%.1f Pa", v)
}

// littleWords is told where even the best test parts the places poorly.
const littleWords = "No test tells much of where it is with the sensors fitted: several of them together may. What another sensor would bring, the command worth reckons."

// noTestWords says why no test is proposed.
func (e *Estimator) noTestWords(refused int) string {
	words := "No set of gates would part these places with the sensors fitted. What another sensor would bring, the command worth reckons."
	switch {
	case refused > 0 && e.rated():
		words = "Of the sets of gates that the ducts are known to bear, none would part these places. Sets whose suction may exceed what the ducts are rated for are not proposed."
	case refused > 0:
		words = "Of the sets of gates that the shop runs anyway, none would part these places. Others are not proposed, since the ducts' rating for negative pressure is not entered."
	}
	return words
}

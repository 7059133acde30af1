package improve

import (
	"cmp"
	"slices"
)

// leastGain (m³/s) is a cubic metre an hour: what brings less is not worth a line.
const leastGain = 1.0 / 3600

// rank fills the answer's lists, and tells by its text what air each change brought that may be a step. Changes that gain alike stay in the
// order in which they were made.
func (j *job) rank(list []tried) map[string]float64 {
	a := j.answer
	brought := map[string]float64{}
	for _, t := range list {
		if t.err != nil {
			a.Lost++
			brought[t.text] = 0
			continue
		}
		p := j.proposal(t, j.now, j.base, j.aim)
		brought[t.text] = usable(p)
		switch {
		case p.Gain < leastGain:
			a.Idle++
		case len(p.Since) > 0:
			a.Refused = append(a.Refused, p)
		default:
			a.Advised = append(a.Advised, p)
		}
	}
	byGain := func(x, y Proposal) int { return cmp.Compare(y.Gain, x.Gain) }
	slices.SortStableFunc(a.Advised, byGain)
	slices.SortStableFunc(a.Refused, byGain)
	return brought
}

// proposal judges a tried change against the drawing before it.
func (j *job) proposal(t tried, before *draft, was trial, a aim) Proposal {
	sets := j.answer.Sets
	p := Proposal{Kind: t.kind, Place: t.place, Text: t.text, Assumes: t.assumes, Short: short(j.original, sets, t.trial)}
	p.Gains, p.Gain = a.gains(j.original, sets, was, t.trial)
	p.Losses = losses(j.original, sets, was, t.trial)
	p.Since = against(t.draft, before.Collector, sets, was, t.trial)
	p.Needs, p.Cost, p.Without = t.draft.bought.priced(j.question.Prices)
	return p
}

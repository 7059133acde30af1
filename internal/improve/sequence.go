package improve

import (
	"cmp"
	"math"
	"slices"
)

const (
	mostSteps = 5
	leastLook = 6    // changes that are solved at each step, at least
	worthStep = 0.05 // a step that brings less than this share of the first one's air is not worth its place
)

// expected is a change with the air that it brought when it was last solved: infinite for one that never was, 0 for one
// that was refused or took another machine the air that it needs.
type expected struct {
	change
	gain float64
}

// usable is the gain of a proposal that may be a step, and otherwise 0.
func usable(p Proposal) float64 {
	if len(p.Since) > 0 || p.NewlyShort() {
		return 0
	}
	return p.Gain
}

// sequence does changes one after the other: at each step, with the earlier ones in place, the one that brings the
// machines that are then short most air, and that neither lets dust settle nor takes a machine the air that it needs. One
// place is changed once, and no run is bought twice.
//
// A change mostly brings less when others are done before it. So they are solved from the best of the last look on, a few
// in any case, and not those that brought less then than the best brings now. One that could not be done at the last look
// is not looked at again.
func (j *job) sequence(last map[string]float64) []Step {
	var steps []Step
	now, was, a := j.now, j.base, j.aim
	done := map[string]bool{}
	total := 0.0
	for len(steps) < mostSteps && len(a.spots) > 0 && (!a.tight || len(steps) == 0) {
		t, p := j.best(now, was, a, done, last)
		if t == nil || len(steps) > 0 && p.Gain < worthStep*steps[0].Gain {
			break
		}
		done[t.place] = true
		total += p.Cost
		now, was = t.draft, t.trial
		a = aimAt(j.original, j.answer.Sets, was)
		steps = append(steps, Step{Proposal: p, Total: total, Still: j.still(a)})
	}
	return steps
}

// best is the change that brings most to a drawing in which others are done already; nil, where none brings anything.
func (j *job) best(now *draft, was trial, a aim, done map[string]bool, last map[string]float64) (*tried, Proposal) {
	var best *tried
	var proposal Proposal
	for looked, e := range expect(changes(now.Collector, now.filter), last) {
		if e.gain < leastGain || best != nil && (looked >= leastLook || len(done) == 0) && e.gain <= proposal.Gain {
			break
		}
		if done[e.place] {
			continue
		}
		t := tryOne(now, e.change, j.answer.Sets, j.question.State)
		if t.err != nil || t.draft.again {
			last[e.text] = 0
			continue
		}
		p := j.proposal(t, now, was, a)
		gain := usable(p)
		last[e.text] = gain
		if gain >= leastGain && (best == nil || gain > proposal.Gain) {
			best, proposal = &t, p
		}
	}
	return best, proposal
}

// expect puts changes into the order of what they brought last.
func expect(list []change, last map[string]float64) []expected {
	var out []expected
	for _, ch := range list {
		gain, known := last[ch.text]
		if !known {
			gain = math.Inf(1)
		}
		out = append(out, expected{ch, gain})
	}
	slices.SortStableFunc(out, func(x, y expected) int { return cmp.Compare(y.gain, x.gain) })
	return out
}

// still names the machines that are short somewhere.
func (j *job) still(a aim) []string {
	var out []string
	for k, m := range j.original.Machines {
		if !a.tight && slices.ContainsFunc(a.spots, func(s spot) bool { return s.machine == k }) {
			out = append(out, m.Name)
		}
	}
	return out
}

package estimate

import (
	"math"
	"slices"

	"ductward/internal/steady"
	"ductward/internal/whichopen"
)

// guessedHood is how uncertain the losses of a drop are in a run whose gates were told by the pressures: such a run says
// nothing of single drops. One set named for another in one run of thirty would make a drop look blocked, which then would
// be expected, and named wrongly the more.
const guessedHood = 3.0

// guessed tells whether the gates of a run were told by the pressures. It teaches no set's ratio and no hood's scatter
// either.
func guessed(o *observation) bool { return len(o.run.Unknown) > 0 }

// judge gives each gate set that a run may have its probability.
func (e *Estimator) judge(u *unseen, r *steady.Run) ([]*expectation, whichopen.Belief, bool) {
	o, ok := e.observe(r, nil)
	if !ok {
		return nil, whichopen.Belief{}, false
	}
	in := e.transition(u, r, &o)
	list := e.possible(u, r)
	usual, missing := u.usual(list, len(e.movable(r)))
	hoods := make([]float64, len(e.cols.machines))
	for m := range hoods {
		hoods[m] = e.hoodSD(m)
	}
	var sets []*expectation
	for i := range list {
		x := e.expect(&list[i].set, u.tracker.Mean[sharedFilter], o.air)
		if !x.solved {
			continue
		}
		s := e.candidate(x, o.air, hoods)
		s.Usual = usual[i]
		in.Sets = append(in.Sets, s)
		sets = append(sets, x)
	}
	if in.Missing = missing; len(r.Unknown) == 0 {
		in.Missing = 0
	}
	belief := u.tracker.Take(in)
	u.filter.see(&u.tracker)
	return sets, belief, len(sets) > 0
}

// transition says what lies between a run and the one before it, and what the run read.
func (e *Estimator) transition(u *unseen, r *steady.Run, o *observation) *whichopen.Run {
	in := &whichopen.Run{Move: whichopen.Moved, Drift: make([]float64, sharedParts)}
	if k := e.loading(); k.V > 0 { // of the ratio, so that of its log falls as it grows
		rate := k.V / math.Exp(u.tracker.Mean[sharedFilter]-e.cal.logFilter)
		u.tracker.Shift(sharedFilter, min(rate, 2*unseenLoading)*r.FanHours)
	}
	in.Drift[sharedFilter] = unseenLoading * unseenLoading * r.FanHours
	in.Drift[sharedLeak] = unseenSeeping * unseenSeeping * r.FanHours
	cleaned := cleanedChance
	switch {
	case u.last.Collector == "" || u.last.Boot != r.Boot || r.Start-u.last.End > useGap:
		in.Move = whichopen.Parted
		cleaned = cleanedAtRest
		u.tracker.Reset(sharedDensity, 0, math.Pow(o.known.densityError(1), 2))
		u.tracker.Reset(sharedFan, 0, unseenFanSpeed*unseenFanSpeed)
	case u.last.End == r.Start && slices.Equal(u.last.Unknown, r.Unknown) && slices.Equal(u.last.Open, r.Open) && slices.Equal(u.last.Ports, r.Ports) && readsAlike(&u.last, r):
		in.Move = whichopen.Still
	}
	if in.Move != whichopen.Still {
		in.Jumps = []whichopen.Jump{
			{Chance: cleaned, Shift: part(sharedFilter, cleanedShift), Var: part(sharedFilter, cleanedSpread*cleanedSpread)},
			{Chance: leakChance, Shift: part(sharedLeak, leakShift), Var: part(sharedLeak, leakSpread*leakSpread)},
		}
	}
	e.readLogs(in, o)
	return in
}

// unmoved is how far the readings of two runs of one stretch may differ, relative, beside their errors: a gate that moved
// just where the stretch was cut leaves no step in either.
const unmoved = 0.015

// readsAlike tells whether two runs read the same.
func readsAlike(a, b *steady.Run) bool {
	for i := range b.Channels {
		y := &b.Channels[i]
		x := channelOf(a, y.Channel)
		if x == nil || math.IsNaN(x.SE) || math.IsNaN(y.SE) {
			continue
		}
		if math.Abs(x.Mean-y.Mean) > unmoved*math.Abs(x.Mean)+4*math.Hypot(x.SE, y.SE) {
			return false
		}
	}
	return true
}

// readLogs takes the logarithms of what was read, with their errors.
func (e *Estimator) readLogs(in *whichopen.Run, o *observation) {
	for range e.cols.channels {
		in.Reading, in.Noise = append(in.Reading, math.NaN()), append(in.Noise, 0)
	}
	for i, c := range o.have {
		size := math.Abs(o.value[i])
		if size <= 2*o.se[i] || e.faults.pulses[e.cols.channels[c]].out { // its logarithm says nothing
			continue
		}
		in.Reading[c] = math.Log(size)
		in.Noise[c] = math.Pow(o.se[i]/size, 2)
	}
}

// part is a shared state with one part that is not zero.
func part(i int, x float64) []float64 {
	out := make([]float64, sharedParts)
	out[i] = x
	return out
}

// guess puts what was found of a run's gates into words, and into the run.
func (e *Estimator) guess(r *steady.Run, sets []*expectation, b whichopen.Belief) (Guess, steady.Run) {
	best := b.Best()
	g := Guess{To: r.At, Start: r.Start, End: r.End, Boot: r.Boot, Probability: best.Probability, None: b.None}
	if !r.At.IsZero() {
		g.From = r.At.Add(r.Start - r.End)
	}
	named := *r
	for _, x := range sets {
		if x.set.key != best.Key {
			continue
		}
		named.Kind, named.Open, named.Ports = x.set.kind, x.set.open, nil
		for _, p := range r.Ports {
			named.Ports = append(named.Ports, steady.Port{Selector: p.Selector, Port: x.set.setting.Port[p.Selector]})
		}
		g.Open = x.set.open
		for _, m := range x.machines {
			g.Machines = append(g.Machines, e.cols.machines[m])
		}
		g.Used = best.Probability >= unseenBar
	}
	return g, named
}

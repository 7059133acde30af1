package estimate

import (
	"math"

	"ductward/internal/detect"
)

// scan looks for a change at every onset since the last one, and takes in what it finds. It returns what may have changed of the
// log of the fan's speed untold.
func (e *Estimator) scan() (untold Value) {
	scores, hyps := e.scoreAll(e.segment, -1)
	if scores == nil {
		return Value{}
	}
	untold = untoldOf(e.cols.fan, scores, hyps)
	best := bestScore(scores, hyps)
	if best == nil || math.Abs(best.Z) < e.threshold() || len(e.days) == 0 {
		return untold
	}
	// That something changed is told by the sharpest hypothesis; what it is, by all that say the same together.
	kind, _ := e.likeliest(scores, hyps)
	best = bestOf(scores, hyps, func(s *detect.Score) bool { return e.class(hyps[s.Hypothesis].Param) == kind })
	if !e.matters(best, hyps) {
		return untold
	}
	e.accept(best, scores, hyps)
	return Value{}
}

// class numbers the kinds of change that are one and the same to a person: a leak, wherever it is; chips in the trunk,
// wherever they lie; what leaves the fan less pressure at its speed, and where nobody reads the fan its speed too; the drop of one
// machine, the fan's speed, one sensor.
func (e *Estimator) class(col int) int {
	switch e.cols.kind(col) {
	case leakChange:
		return -1
	case chokeChange:
		return -2
	case wheelChange, behindChange:
		return -3
	case fanChange:
		if !e.cols.metered() {
			return -3
		}
	}
	return col
}

// likeliest returns the class with the most evidence, that of all its places, onsets and profiles summed, and the log of
// that sum by class.
func (e *Estimator) likeliest(scores []detect.Score, hyps []detect.Hypothesis) (class int, logs map[int]float64) {
	top := math.Inf(-1)
	for i := range scores {
		top = max(top, scores[i].Evidence)
	}
	sums := map[int]float64{}
	var order []int
	for i := range scores {
		s := &scores[i]
		h := hyps[s.Hypothesis]
		if h.Sign*s.Size < 0 {
			continue
		}
		c := e.class(h.Param)
		if _, ok := sums[c]; !ok {
			order = append(order, c)
		}
		sums[c] += h.Weight * math.Exp(s.Evidence-top)
	}
	logs = make(map[int]float64, len(sums))
	for i, c := range order {
		logs[c] = math.Log(sums[c]) + top
		if i == 0 || logs[c] > logs[class] {
			class = c
		}
	}
	return class, logs
}

// scoreAll scans the days from the first given one, with every onset near a day tried, -1 for none.
func (e *Estimator) scoreAll(first, near int) ([]detect.Score, []detect.Hypothesis) {
	if first >= len(e.days) {
		return nil, nil
	}
	before := e.before.Clone()
	if len(e.changes) > 0 && first > 0 {
		before = detect.NewInformation(e.cols.changes)
		e.addWeak(before, make([]float64, e.cols.changes))
	}
	var days []detect.Information
	for _, d := range e.days[first:] {
		days = append(days, e.residual(d))
	}
	// after a change the level it left behind must first be known
	from := 0
	if len(e.changes) > 0 && first > 0 {
		from = 2
	}
	s := detect.Scan{Days: days, Before: before, Hypotheses: e.hypotheses(), Inflation: e.scatter.inflation(),
		Profiles: []detect.Profile{detect.Step, detect.Ramp}}
	for m := range e.cols.machines {
		s.Free = append(s.Free, e.cols.block0+m)
	}
	s.Free, s.FreePrior = e.withTear(s.Free, e.creep.drifts())
	found := e.scanLate(s, first, from)
	for _, k := range onsets(from, len(days), near-first) {
		if k < len(days)-lateDays {
			s.Onsets = append(s.Onsets, k)
		}
	}
	var scores []detect.Score
	for _, sc := range append(found, s.Run()...) {
		if sc.Profile == detect.Ramp && (!e.cols.isLeak(s.Hypotheses[sc.Hypothesis].Param) || len(days)-sc.Onset < youngest) {
			continue // only leaks grow: what else changes is told by its steps
		}
		if sc.Profile == detect.Ramp {
			sc.Evidence -= growthDoubt
		}
		sc.Onset += first
		scores = append(scores, sc)
	}
	return scores, s.Hypotheses
}

// scanLate tries the onsets on the last few days, each with the errors that so few days have together.
func (e *Estimator) scanLate(s detect.Scan, first, from int) []detect.Score {
	var out []detect.Score
	all := s.Days
	s.Profiles = []detect.Profile{detect.Step}
	for n := 1; n <= lateDays && len(all)-n >= from; n++ {
		s.Days = append([]detect.Information(nil), all...)
		for k := len(all) - n; k < len(all); k++ {
			d := e.days[first+k]
			s.Days[k] = e.beyond(d.asLate(n), d.at)
		}
		s.Onsets = []int{len(all) - n}
		out = append(out, s.Run()...)
	}
	return out
}

// youngest is how many days a leak must have gone on before its growth can be told from a step.
const youngest = 4

// growthDoubt is how much more evidence, as a log, growth needs than a step: over a few days a step that is seen through
// noise looks like growth nearly as well, and growth says more about tomorrow.
const growthDoubt = 1.0

// onsets lists the days to try: all of the last two weeks, all within two weeks of a day, every third besides.
func onsets(from, n, near int) []int {
	const close = 14
	var out []int
	for k := n - 1; k >= from; k-- {
		age, away := n-1-k, k-near
		if age < close || near >= 0 && away > -close && away < close || age%3 == 0 {
			out = append(out, k)
		}
	}
	return out
}

// bestScore returns the score with the most evidence, prior weights included.
func bestScore(scores []detect.Score, hyps []detect.Hypothesis) *detect.Score {
	var best *detect.Score
	top := math.Inf(-1)
	for i := range scores {
		s := &scores[i]
		if hyps[s.Hypothesis].Sign*s.Size < 0 {
			continue
		}
		if v := s.Evidence + math.Log(hyps[s.Hypothesis].Weight); v > top {
			top, best = v, s
		}
	}
	return best
}

// relinearise fits the days from an index again, about what is now known.
func (e *Estimator) relinearise(from int) {
	for _, d := range e.days[from:] {
		e.refitDay(d, e.known(d.at))
	}
	e.refreshFilter()
}

// bestOf returns the best score among those that are allowed.
func bestOf(scores []detect.Score, hyps []detect.Hypothesis, allowed func(*detect.Score) bool) *detect.Score {
	var keep []detect.Score
	for i := range scores {
		if allowed(&scores[i]) {
			keep = append(keep, scores[i])
		}
	}
	return bestScore(keep, hyps)
}

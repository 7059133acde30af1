package estimate

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/shop"
)

// change is one change that has been found: what, since when, how much.
type change struct {
	col     int // most probable column
	onset   int // index of the day among all days
	low     int // interval of the onset
	high    int
	told    int     // index of the day on which it was found: it began no later, though in its midst it may show on the next
	closed  bool    // something else happened after it: it is not scored again
	sure    float64 // of a ramp: its evidence over that of a step
	named   int     // index of the day on which it was last taken for another kind of change
	profile detect.Profile
	size    float64   // of a ramp: by day
	ended   int       // index of the day on which it stopped growing or was mended; -1: it goes on
	final   float64   // size after that
	mass    []float64 // by column: probability that it is this one
	mean    float64   // of the size now, over the columns of its kind
	sd      float64
	finding string // ID of its finding
}

// value returns the size of the change on a day.
func (c *change) value(day int) float64 {
	if day < c.onset {
		return 0
	}
	if c.ended >= 0 && day >= c.ended {
		return c.final
	}
	if c.profile == detect.Step {
		return c.size
	}
	return c.size * float64(day-c.onset+1)
}

// known returns what is known to have changed by a day, by column.
func (e *Estimator) known(day int) []float64 {
	x := make([]float64, e.cols.changes)
	for _, c := range e.changes {
		x[c.col] += c.value(day)
	}
	return x
}

// residual returns what a day says beyond what is known to have changed by it.
func (e *Estimator) residual(d *dayData) detect.Information {
	out := d.info.Clone()
	var k mat.VecDense
	k.MulVec(out.Lambda, mat.NewVecDense(e.cols.changes, e.known(d.at)))
	out.Eta.SubVec(out.Eta, &k)
	return out
}

// scatter follows how far the record scatters beyond what its days claim.
type scatter struct {
	within, between float64 // sums of squares
	nWithin         float64
	nBetween        float64
}

// priorDays is how many days' worth of belief the stated errors carry against the record's own scatter.
const priorDays = 10

func (s *scatter) day(innovation float64) {
	if !math.IsNaN(innovation) {
		s.within += innovation
		s.nWithin++
	}
}

// inflation returns the variance of the record over what its days claim, never below 1: a record that looks too good
// is only young.
func (s *scatter) inflation() float64 {
	w := (priorDays + s.within) / (priorDays + s.nWithin)
	b := (priorDays + s.between) / (priorDays + s.nBetween)
	return max(1, w, b)
}

// hypotheses lists what may have changed, one thing at a time.
func (e *Estimator) hypotheses() []detect.Hypothesis {
	known := e.known(len(e.summary))
	sd := e.changePriors()
	zonesLeft := float64(len(e.cols.zones))
	var out []detect.Hypothesis
	for j, s := range sd {
		h := detect.Hypothesis{Param: j, Prior: s, Weight: 1}
		switch {
		case e.cols.isLeak(j):
			h.Weight = 0.6 / zonesLeft // leaks and blockages are what mostly happens (common practice, no source)
			h.Sign = 1
			if known[j] > 0 {
				h.Sign = 0
			}
		case j < e.cols.fan:
			h.Weight = 0.25 / float64(len(e.cols.machines))
		case j == e.cols.fan:
			h.Weight = 0.08
		case e.cols.isScale(j):
			h.Weight = 0.07 / float64(len(e.cols.channels))
		default:
			continue
		}
		out = append(out, h)
	}
	return out
}

// directions is the number of independent questions that the scan asks of the record: far fewer than hypotheses, since
// neighbouring zones look nearly alike. Two profiles of the trunk and of each drop; the loss of each drop, fan, each
// sensor.
func (e *Estimator) directions() int {
	return 2*(1+len(e.cols.machines)) + len(e.cols.machines) + 1 + len(e.cols.channels)
}

// workingDays is how many days of fan sessions a year has.
const workingDays = 250

// scanShare is the share of the promised false alarms that the scan may use; the other half is for the filter, the air
// and the sensors.
const scanShare = 0.5

// threshold returns the standardised contrast at which a change is told.
func (e *Estimator) threshold() float64 {
	rate := e.collector.Alarms.FalseAlarmsPerYear
	if rate == 0 {
		rate = 1
	}
	return detect.Threshold(rate*scanShare/workingDays, window, e.directions())
}

// The least changes that matter to anybody: a smaller one is not told, however sure it may be.
const (
	leastBlock = 0.06  // of the log of a drop's loss
	leastFan   = 0.005 // of the log of the fan's speed
	leastScale = 0.025 // of a sensor's scale
)

// matters tells whether a score is of a change that is worth telling.
func (e *Estimator) matters(s *detect.Score, hyps []detect.Hypothesis) bool {
	size := math.Abs(s.Size)
	switch col := hyps[s.Hypothesis].Param; {
	case e.cols.isLeak(col):
		return true
	case col < e.cols.fan:
		return size >= leastBlock
	case col == e.cols.fan:
		return size >= leastFan
	}
	return size >= leastScale
}

// scan looks for a change at every onset since the last one, and takes in what it finds.
func (e *Estimator) scan() {
	scores, hyps := e.scoreAll(e.segment, -1)
	if scores == nil {
		return
	}
	best := bestScore(scores, hyps)
	if best == nil || math.Abs(best.Z) < e.threshold() || len(e.days) == 0 || !e.matters(best, hyps) {
		return
	}
	e.accept(best, scores, hyps)
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
		Profiles: []detect.Profile{detect.Step, detect.Ramp}, Onsets: onsets(from, len(days), near-first)}
	for m := range e.cols.machines {
		s.Free = append(s.Free, e.cols.block0+m)
		s.FreePrior = append(s.FreePrior, blockDrift)
	}
	var scores []detect.Score
	for _, sc := range s.Run() {
		if sc.Profile == detect.Ramp && (!e.cols.isLeak(s.Hypotheses[sc.Hypothesis].Param) || len(days)-sc.Onset < youngest) {
			continue // only leaks grow: what else changes is told by its steps
		}
		sc.Onset += first
		scores = append(scores, sc)
	}
	return scores, s.Hypotheses
}

// youngest is how many days a leak must have gone on before its growth can be told from a step.
const youngest = 4

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

// accept takes a change into what is known, and tells it.
func (e *Estimator) accept(best *detect.Score, scores []detect.Score, hyps []detect.Hypothesis) {
	col := hyps[best.Hypothesis].Param
	if e.cols.isLeak(col) && best.Size < 0 {
		e.mend(best, col)
		return
	}
	c := &change{col: col, onset: e.days[best.Onset].at, profile: best.Profile, size: best.Size, ended: -1,
		told: e.days[len(e.days)-1].at, named: e.days[len(e.days)-1].at}
	for _, o := range e.changes {
		e.halt(o, c.onset)
	}
	e.changes = append(e.changes, c)
	e.weigh(c, best, scores, hyps)
	e.segment = best.Onset
	e.relinearise(best.Onset)
	e.refine(c)
	e.level = detect.Level{}
	e.tell(c)
}

// relinearise fits the days from an index again, about what is now known.
func (e *Estimator) relinearise(from int) {
	for _, d := range e.days[from:] {
		e.fitDay(d, e.known(d.at), d.filter[0].V)
	}
	e.refreshFilter()
}

// weigh sets the probabilities of place, the interval of the onset and the size of a change from the scores.
func (e *Estimator) weigh(c *change, best *detect.Score, scores []detect.Score, hyps []detect.Hypothesis) {
	top := math.Inf(-1)
	for i := range scores {
		top = max(top, scores[i].Evidence)
	}
	c.mass = make([]float64, e.cols.changes)
	byDay := map[int]float64{}
	total := 0.0
	now := len(e.summary)
	if n := len(e.days); n > 0 {
		now = e.days[n-1].at
	}
	var sw, sx, sxx float64
	for i := range scores {
		s := &scores[i]
		h := hyps[s.Hypothesis]
		if h.Sign*s.Size < 0 {
			continue
		}
		w := h.Weight * math.Exp(s.Evidence-top)
		total += w
		c.mass[h.Param] += w
		byDay[s.Onset] += w
		if e.sameClass(h.Param, c.col) {
			x, v := s.Size, s.Variance
			if s.Profile == detect.Ramp {
				k := float64(now - e.days[s.Onset].at + 1)
				x, v = x*k, v*k*k
			}
			sw += w
			sx += w * x
			sxx += w * (x*x + v)
		}
	}
	for j := range c.mass {
		c.mass[j] /= total
	}
	if sw == 0 { // the best score itself is always of its class and sign: only rounding can empty the sum
		sw, sx, sxx = 1, best.Size, best.Size*best.Size+best.Variance
	}
	c.mean = sx / sw
	c.sd = math.Sqrt(max(sxx/sw-c.mean*c.mean, best.Variance*1e-6))
	if e.cols.isLeak(c.col) {
		c.sd = math.Hypot(c.sd, e.leakScale()*c.mean)
	}
	low, high := interval(byDay, total, 0.9)
	c.low, c.high = e.days[low].at, e.days[high].at
}

// flowScale returns the relative error of every flow that the tool tells: the root of a velocity sensor's gain, with the
// fan's curve beside it, or the fan's curve alone (common practice, no source). Nothing in the readings makes it less.
func (e *Estimator) flowScale() float64 {
	if e.measures(shop.VelocityPressure) {
		return 0.02
	}
	return 0.04
}

// leakScale is the relative error that every leak's size has besides: the scale of flows, and the way from the suction
// at which it was seen, with all gates shut that of the fan near shut-off, to the reference, by an exponent that is not
// known.
func (e *Estimator) leakScale() float64 {
	return math.Hypot(e.flowScale(), leakExponentError*math.Log(max(e.shutOff(), e.reference)/e.reference))
}

// shutOff returns the fan's pressure with no flow, in Pa.
func (e *Estimator) shutOff() float64 {
	if c := e.collector.Fan.Coefficients; len(c) > 0 {
		return c[0]
	}
	if p := e.collector.Fan.Points; len(p) > 0 {
		return p[0].Pressure
	}
	return e.reference
}

// interval returns the central interval of a distribution over days.
func interval(mass map[int]float64, total, confidence float64) (low, high int) {
	var days []int
	for d := range mass {
		days = append(days, d)
	}
	sort.Ints(days)
	tail := (1 - confidence) / 2
	cum := 0.0
	low, high = days[0], days[len(days)-1]
	found := false
	for _, d := range days {
		cum += mass[d] / total
		if !found && cum >= tail {
			low, found = d, true
		}
		if cum >= 1-tail {
			high = d
			break
		}
	}
	return low, high
}

// refine scores the latest change again with all days known so far: its size, place and onset sharpen as it goes on.
func (e *Estimator) refine(c *change) {
	first := e.indexOf(c.onset)
	if first < 0 {
		return
	}
	e.changes = without(e.changes, c) // its own part of the record must show
	scores, hyps := e.scoreAll(e.reach(first), first)
	e.changes = append(e.changes, c)
	late := bestOf(scores, hyps, func(s *detect.Score) bool { return e.days[s.Onset].at > c.told+1 })
	scores = slices.DeleteFunc(scores, func(s detect.Score) bool { return e.days[s.Onset].at > c.told+1 })
	best := bestOf(scores, hyps, func(s *detect.Score) bool { return e.sameClass(hyps[s.Hypothesis].Param, c.col) })
	if other := bestScore(scores, hyps); other != nil && (best == nil || other.Evidence > best.Evidence+overrule) && e.matters(other, hyps) {
		best = other
	}
	if best == nil || e.cols.isLeak(hyps[best.Hypothesis].Param) && best.Size < 0 {
		return
	}
	if late != nil && late.Evidence > best.Evidence+overrule {
		c.closed = true // something else has happened since: the scan is to find it, and this one stays as it was
		return
	}
	c.col, c.profile = hyps[best.Hypothesis].Param, best.Profile
	c.onset, c.size = e.days[best.Onset].at, best.Size
	c.sure = math.Inf(-1)
	if step := bestOf(scores, hyps, func(s *detect.Score) bool { return s.Profile == detect.Step }); step != nil {
		c.sure = best.Evidence - step.Evidence
	}
	e.weigh(c, best, scores, hyps)
	e.segment = best.Onset
}

// halt lets a leak grow no further from a day on, unless it has surely grown: once another change follows it, its growth
// is no longer scored.
func (e *Estimator) halt(c *change, day int) {
	if c.profile != detect.Ramp || c.ended >= 0 || c.sure >= overrule || day <= c.onset {
		return
	}
	c.profile, c.size = detect.Step, c.value(day-1)
	c.sd *= c.size / c.mean
	c.mean = c.size
	e.retell(c)
}

// overrule is how much more evidence, as a log, another kind of change needs to take the place of the one that was told.
const overrule = 3.0

// sameClass tells whether two columns are of one kind of change: any two leaks, or the very same drop, fan or sensor.
func (e *Estimator) sameClass(a, b int) bool {
	return a == b || e.cols.isLeak(a) && e.cols.isLeak(b)
}

// reach returns how far back the scan for a change's onset may look: not behind an earlier change.
func (e *Estimator) reach(first int) int {
	from := max(0, first-25)
	for _, o := range e.changes {
		if i := e.indexOf(o.onset); i > from {
			from = min(i, first)
		}
	}
	return from
}

func without(cs []*change, c *change) []*change {
	var out []*change
	for _, o := range cs {
		if o != c {
			out = append(out, o)
		}
	}
	return out
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

// indexOf returns where a day stands in the window, -1 if it has left it.
func (e *Estimator) indexOf(at int) int {
	for i, d := range e.days {
		if d.at == at {
			return i
		}
	}
	return -1
}

// mend takes in that a known leak became less: it was sealed, or it shut by itself.
func (e *Estimator) mend(best *detect.Score, col int) {
	day := e.days[best.Onset].at
	for i := len(e.changes) - 1; i >= 0; i-- {
		c := e.changes[i]
		if c.col != col || c.ended >= 0 && c.final <= 0 {
			continue
		}
		left := c.value(e.days[len(e.days)-1].at) + best.Size
		if left < 0.25*c.mean || left < 1.5*math.Sqrt(best.Variance) {
			left = 0
		}
		c.ended, c.final = day, left
		e.segment = best.Onset
		e.relinearise(best.Onset)
		e.level = detect.Level{}
		e.tellMended(c, best)
		return
	}
}

// young is for how many days a change is only scored again before another is looked for: what it is not yet known to be
// would pass for a second one.
const young = 3

// followUp scores the latest change again: with each day its size, place and onset are known better. It returns true
// while the change is young.
func (e *Estimator) followUp(d *dayData) (wait bool) {
	n := len(e.changes)
	if n == 0 {
		return false
	}
	for _, c := range e.changes[:n-1] {
		e.growOn(c, d.at)
	}
	c := e.changes[n-1]
	if c.ended >= 0 || c.closed || e.indexOf(c.onset) < 0 {
		e.growOn(c, d.at)
		return false
	}
	if d.at <= c.onset {
		return true
	}
	was := *c
	e.refine(c)
	if c.col != was.col || c.profile != was.profile {
		e.relinearise(max(min(e.indexOf(c.onset), e.indexOf(was.onset)), 0))
	}
	if c.closed {
		return false
	}
	if !e.sameClass(c.col, was.col) {
		e.withdraw(was.finding)
		c.named = d.at
		e.tell(c)
		return true
	}
	e.retell(c)
	return d.at-c.named < young
}

// withdraw ends a finding that turned out to be something else.
func (e *Estimator) withdraw(id string) {
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == id && f.Active() {
			f.Ended = e.lastAt
			f.Text += " Later readings are explained better by another change: see what was found after it."
		}
	}
}

// growOn lets the finding of an earlier leak say how far it has grown since a later change took its place in the scan.
func (e *Estimator) growOn(c *change, day int) {
	if c.ended >= 0 || c.profile != detect.Ramp {
		return
	}
	grown := c.value(day)
	c.sd *= grown / c.mean
	c.mean = grown
	e.retell(c)
}

// track follows the total new leakage by a local level.
func (e *Estimator) track(d *dayData) {
	y := e.leakOfDay(d)
	walk := math.Pow(1.0/3600, 2) // m³/s: 1 m³/h a day of slow growth, not yet told
	before := e.level
	e.level.Step(y.V, y.SE*y.SE, walk)
	if before.Known && len(e.changes) == 0 && !math.IsNaN(y.V) {
		z := (y.V - before.Mean) / math.Sqrt(before.Variance+walk+y.SE*y.SE)
		e.scatter.between += min(z*z, 9)
		e.scatter.nBetween++
	}
	if !before.Known || len(e.changes) > 0 {
		e.replayLevel()
	}
}

// replayLevel runs the local level over the days since the last change.
func (e *Estimator) replayLevel() {
	from := 0
	slope := 0.0
	if n := len(e.changes); n > 0 {
		c := e.changes[n-1]
		day := c.onset
		if c.ended >= 0 {
			day = c.ended
		} else if c.profile == detect.Ramp && e.cols.isLeak(c.col) {
			slope = c.size
		}
		from = max(e.indexOf(day), 0)
	}
	e.level = detect.Level{}
	walk := math.Pow(1.0/3600, 2)
	for _, d := range e.days[from:] {
		y := e.leakOfDay(d)
		if e.level.Known {
			e.level.Mean += slope
		}
		e.level.Step(y.V, y.SE*y.SE, walk)
	}
}

// leakOfDay returns the total new leakage that a day shows by itself, over the zones by their probability.
func (e *Estimator) leakOfDay(d *dayData) Value {
	weight := e.zoneWeights()
	fixed := e.known(d.at)
	inflation := e.scatter.inflation()
	var sw, sx, sxx float64
	for j := range e.cols.zones {
		x, v, ok := e.marginalLeak(d.info, j, fixed)
		if !ok || weight[j] == 0 {
			continue
		}
		v *= inflation
		sw += weight[j]
		sx += weight[j] * x
		sxx += weight[j] * (x*x + v)
	}
	if sw == 0 {
		return Value{math.NaN(), math.NaN()}
	}
	mean := sx / sw
	return Value{V: mean, SE: math.Sqrt(max(sxx/sw-mean*mean, 0))}
}

// zoneWeights returns how probable each zone is to hold what leaks: by the latest leak found, else evenly over all that
// the collector always draws on. A leak on a machine's side of its gate shows only while that gate is open, where it
// cannot be told from a change of the hood: it counts once it has been found.
func (e *Estimator) zoneWeights() []float64 {
	w := make([]float64, len(e.cols.zones))
	for i := len(e.changes) - 1; i >= 0; i-- {
		c := e.changes[i]
		if e.cols.isLeak(c.col) && c.value(1<<30) != 0 {
			copy(w, c.mass[:len(w)])
			return w
		}
	}
	for j, z := range e.cols.zones {
		if !e.seen[j] {
			continue
		}
		switch kind := partKind(z); {
		case kind == "drop", kind == "run" && !e.cols.gated[j]:
			w[j] = 1
		case kind == "seat":
			w[j] = 0.3
		}
	}
	return w
}

// judgeZones marks the zones whose leak the baseline could have seen: of the others, little can be told before they are
// found.
func (e *Estimator) judgeZones() {
	n := len(e.cols.zones)
	e.seen = make([]bool, n)
	variance := make([]float64, n)
	least := math.Inf(1)
	zero := make([]float64, e.cols.changes)
	for j := range n {
		_, v, ok := e.marginalLeak(e.baseInfo, j, zero)
		if !ok {
			v = math.Inf(1)
		}
		variance[j] = v
		least = min(least, v)
	}
	for j, v := range variance {
		e.seen[j] = v <= 25*least
	}
}

// marginalLeak returns the total leak if all that is unknown of it lies in zone j: the known leaks plus what the
// information says beyond them, each drop's loss free to wander.
func (e *Estimator) marginalLeak(info detect.Information, j int, known []float64) (x, variance float64, ok bool) {
	free := make([]int, len(e.cols.machines))
	prior := make([]float64, len(free))
	for m := range free {
		free[m], prior[m] = e.cols.block0+m, blockDrift
	}
	w := mat.NewVecDense(e.cols.changes, nil)
	w.MulVec(info.Lambda, mat.NewVecDense(e.cols.changes, known))
	w.SubVec(info.Eta, w)
	size, variance, ok := detect.Marginal(info.Lambda, w, j, free, prior)
	if !ok {
		return 0, 0, false
	}
	// a zone of which the information says nothing keeps its prior
	keep := leakPrior * leakPrior / (leakPrior*leakPrior + variance)
	variance *= keep
	total := size * keep
	for z := range e.cols.zones {
		total += known[z]
	}
	return total, variance, true
}

// priorityOf tells what a change of a column asks of a person.
func (e *Estimator) kindOf(c *change) finding.Kind {
	switch {
	case e.cols.isLeak(c.col):
		if partKind(e.cols.zones[c.col]) == "seat" {
			return finding.GateLeaks
		}
		if c.profile == detect.Ramp {
			return finding.GrowingLeak
		}
		return finding.NewLeak
	case c.col < e.cols.fan:
		return finding.DropBlocked
	case c.col == e.cols.fan:
		return finding.FanSlow
	}
	return finding.SensorDisagrees
}

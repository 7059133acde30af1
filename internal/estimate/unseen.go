package estimate

import (
	"cmp"
	"math"
	"slices"
	"time"

	"ductward/internal/steady"
	"ductward/internal/whichopen"
)

// unseenBar is how probable a gate set must be for a run to be used as one with that set. What is less sure serves the
// filter alone.
const unseenBar = 0.95

// unseenKept is how many guesses are kept: those of some months.
const unseenKept = 4096

// Guess is what was told of the gates of one run, where some positions are not known.
type Guess struct {
	From, To    time.Time     // civil; zero: not placed
	Start, End  time.Duration // monotonic
	Boot        uint32
	Open        []string // gates of the likeliest set, those known to be open among them
	Machines    []string // that draw air then
	Probability float64
	None        float64 // of no set that was thought of
	Used        bool    // sure enough to be used
}

// unseen follows the runs of a collector, some of whose gates tell nothing.
type unseen struct {
	cal     *calibration // that it was begun with
	tracker whichopen.Tracker
	changes uint64 // digest of what was known to have changed

	runs float64            // of the record, whose sets are known
	used map[string]float64 // and how often each set
	sets map[string][]int   // the machines of each

	last    steady.Run // the run before; no Collector: none
	filter  filterTrack
	guesses []Guess
}

// How far the shared state moves (common practice, no source), and what may happen to it at once.
const (
	unseenLoading  = 0.012      // of the filter's log resistance, in an hour of fan
	unseenSeeping  = 1.0 / 3600 // m³/s, of the leakage in an hour of fan
	unseenLeak     = 8.0 / 3600 // m³/s, of what is not yet known to leak
	cleanedChance  = 0.004      // that the filter was cleaned between two runs
	cleanedAtRest  = 0.06       // and over a rest
	leakChance     = 0.002      // that something opened between two runs, or over a rest
	cleanedShift   = -0.5       // of the log resistance
	cleanedSpread  = 0.3
	leakShift      = 50.0 / 3600
	leakSpread     = 40.0 / 3600
	unseenFanSpeed = 0.001 // of the fan's log speed from day to day
)

// newUnseen begins to follow runs whose gates are not known, with what the record so far knows.
func (e *Estimator) newUnseen() *unseen {
	u := &unseen{cal: e.cal, used: map[string]float64{}, sets: map[string][]int{}}
	if e.unseen != nil {
		u.guesses = e.unseen.guesses
	}
	u.tracker = whichopen.New(make([]float64, sharedParts), make([]float64, sharedParts))
	for _, f := range e.cal.sets {
		if s := e.sets[e.newGateSet(&steady.Run{Open: f.Open, Ports: f.Ports}).key]; s != nil {
			u.count(s, float64(f.Runs))
		}
	}
	for _, d := range append(slices.Clone(e.days), e.open) {
		for i := range d.obs {
			if o := &d.obs[i]; !guessed(o) && (i == 0 || d.obs[i-1].set != o.set) {
				u.count(o.set, 1)
			}
		}
	}
	e.reset(u)
	return u
}

// reset sets the shared state to what is known of the plant.
func (e *Estimator) reset(u *unseen) {
	filter := 0.02
	if n := len(e.filter.points); n > 0 {
		filter = math.Hypot(filter, e.filter.points[n-1].log.SE)
	}
	u.changes = e.digestNow()
	u.tracker.Reset(sharedFilter, e.logFilterNow(), filter*filter)
	u.tracker.Reset(sharedLeak, 0, unseenLeak*unseenLeak)
	u.last = steady.Run{} // what else is shared begins anew
}

// digestNow tells states of knowledge about the changes apart.
func (e *Estimator) digestNow() uint64 {
	return digest(&state{params: e.known(len(e.summary)), globals: e.cal.globals})
}

// count takes in that a gate set was run some times. A run that was only cut counts once.
func (u *unseen) count(s *gateSet, times float64) {
	u.runs += times
	u.used[s.key] += times
	u.sets[s.key] = s.machines
}

// mostUsed lists the sets of machines of the record, the most used first.
func (u *unseen) mostUsed(n int) [][]int {
	keys := sortedKeys(u.used)
	slices.SortStableFunc(keys, func(a, b string) int { return cmp.Compare(u.used[b], u.used[a]) })
	var out [][]int
	for _, k := range keys[:min(n, len(keys))] {
		out = append(out, u.sets[k])
	}
	return out
}

// nameRun tells the gates of a run of which not all are known. It returns the run with its gates where they are sure
// enough.
func (e *Estimator) nameRun(r steady.Run) (steady.Run, bool) {
	if e.viewer == nil {
		return e.lumpRun(r)
	}
	e.unsure++
	if len(r.Unknown) == 0 { // of a record that does not tell which positions are not known, nor cuts runs where they change
		return r, false
	}
	if e.cal == nil {
		if !e.plainUsed {
			e.beginPlain()
			e.plainRun(&r)
		}
		return r, false
	}
	if e.unseen == nil || e.unseen.cal != e.cal {
		e.unseen = e.newUnseen()
	}
	u := e.unseen
	if c := e.digestNow(); c != u.changes {
		e.reset(u)
	}
	sets, belief, ok := e.judge(u, &r)
	if !ok {
		return r, false
	}
	g, named := e.guess(&r, sets, belief)
	u.last = r
	u.guesses = append(u.guesses, g)
	if len(u.guesses) > unseenKept {
		u.guesses = slices.Clone(u.guesses[unseenKept/4:])
	}
	if !g.Used {
		return r, false
	}
	e.unsure--
	e.guessed++
	return named, true
}

// guessedHood is how uncertain the losses of a drop are in a run whose gates were told by the pressures: such a run says
// nothing of single drops. One set named for another in one run of thirty would make a drop look blocked, which then would
// be expected, and named wrongly the more.
const guessedHood = 3.0

// guessed tells whether the gates of a run were told by the pressures. It teaches no set's ratio and no hood's scatter
// either.
func guessed(o *observation) bool { return len(o.run.Unknown) > 0 }

// follow takes in a run whose gates are known, by themselves or by now. What all runs share is then known for the next.
func (e *Estimator) follow(r *steady.Run, set *gateSet) {
	u := e.unseen
	if u == nil || e.cal == nil || u.cal != e.cal {
		return
	}
	if len(r.Unknown) > 0 { // it has been judged; what is guessed is no record of what is usual
		return
	}
	if u.last.Collector == "" || !slices.Equal(u.last.Open, r.Open) || !slices.Equal(u.last.Ports, r.Ports) {
		u.count(set, 1)
	}
	e.judge(u, r)
	u.last = *r
}

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

// lumpRun takes a run of a collector without a drawing: whatever is open, two readings tell the filter's resistance by the
// fan's curve, if there is air enough.
func (e *Estimator) lumpRun(r steady.Run) (steady.Run, bool) {
	r.Kind = steady.Running
	if e.lump == nil {
		return r, true
	}
	_, flow, ok := e.lump.fit(e, &r, 0)
	return r, ok && flow.V > leastFlow*e.collector.Filter.CleanFlow
}

// leastFlow is the share of the filter's clean flow below which the fan's curve is too flat to tell the flow.
const leastFlow = 0.3

// Guesses returns what was told of the gates of the last months' runs whose positions are not known, oldest first.
func (e *Estimator) Guesses() []Guess {
	if e.unseen == nil {
		return nil
	}
	return append([]Guess(nil), e.unseen.guesses...)
}

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
		return r, true // whatever is open, two readings tell the filter's resistance
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

// Guesses returns what was told of the gates of the last months' runs whose positions are not known, oldest first.
func (e *Estimator) Guesses() []Guess {
	if e.unseen == nil {
		return nil
	}
	return append([]Guess(nil), e.unseen.guesses...)
}

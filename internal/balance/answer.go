package balance

import (
	"math"

	"ductward/internal/duct"
)

// Answer is what may be open together, for one collector. Names stand in the order of the shop file.
type Answer struct {
	Collector string
	Least     float64   // m/s, what carries the dust
	Rating    float64   // Pa, the collector's; NaN: not known
	Filter    []float64 // the filter's resistances that were asked, over the clean one: as told, then at its limit if known

	Solved int  // states that were solved
	Lost   int  // of them, those without a state of balance; they count as not fine
	All    bool // every set was looked at
	Whole  int  // if not: every set of up to so many ways was
	Pruned bool // sets with a subset that lacks air were left out unsolved

	Fine []int // sets that are fine, by resistance
	Fed  []int // sets in which each machine has its air, whether or not the dust is carried
	Safe int   // sets that are fine at every resistance

	Together  []Together // the safe sets to which nothing can be added, the largest first
	FirstOnly []Together // those that are fine at the first resistance alone
	AirOnly   []Together // those in which each machine has its air at every resistance, but dust may settle
	Machines  []Machine
	Runs      []Run // those that carry in no set in which each machine has its air, at the last resistance
}

// Together is one set of machines with how it fares at each resistance of the filter.
type Together struct {
	Machines []string
	At       []Fare
}

// Fare is how a set fares in one solved state.
type Fare struct {
	Fine     bool
	FanFlow  float64 // m³/s
	Suction  float64 // Pa, where it is nearest to the rating
	Slowest  string  // the used run that is slowest; "": none is used
	Velocity float64 // m/s, there
	Tightest string  // the machine with the least beyond its need; "": none states one
	Slack    float64 // that, over the need; NaN: none states one
	Open     []duct.MachineFlow
	Wrong    string // what is wrong, in words; "": nothing
}

// Served says when a machine can be served.
type Served int

// The ways in which a machine can be served, from the best on.
const (
	Alone     Served = iota // with nothing else open, at every resistance of the filter
	WithOther               // safely, but only with others open as well
	FirstOnly               // only at the first resistance of the filter
	AirOnly                 // it has its air, but dust may settle whatever else is open
	AirFirst                // it has its air at the first resistance only, and dust may settle even so
	Never
)

// String names it as other programs read it.
func (s Served) String() string {
	return [...]string{"alone", "with others", "not at the filter's limit", "air only", "air only, not at the filter's limit", "never"}[s]
}

// Machine is when one machine can be served.
type Machine struct {
	Name   string
	Needs  float64 // m³/s; NaN: not stated
	Served Served
	Alone  []Fare     // by resistance, with nothing else open; nil where it cannot be opened
	With   [][]string // the least that must be open as well, one of these; nil where it is served alone or not safely
	Sets   int        // safe sets that it is in
	Most   int        // machines in the largest of them
	Why    string     // why it is not served alone, or never
}

// Served tells that every machine can be served at every resistance of the filter.
func (a *Answer) Served() bool {
	for _, m := range a.Machines {
		if m.Served > WithOther {
			return false
		}
	}
	return true
}

// Run is a run that does not carry in any set in which each machine has its air.
type Run struct {
	Name     string
	Diameter float64  // m
	Best     float64  // m/s, the fastest in such a set
	With     []string // that set
	Sweep    []string // a set with the fewest machines that carries in it, whoever is short of air; nil: none was found
	Velocity float64  // m/s, there; NaN: none was found
}

// unknown is a number that is not known.
var unknown = math.NaN()

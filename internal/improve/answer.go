package improve

import (
	"math"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

var notKnown = math.NaN()

// Question is what is asked about a collector.
type Question struct {
	State  duct.State   // air, fan speed and the filter's resistance; its setting does not matter
	Sets   []Set        // nil: UsualSets
	Prices *shop.Prices // nil: nothing is said about money
}

// Answer is what could be done for one collector.
type Answer struct {
	Collector string
	Least     float64 // m/s, what carries the dust
	Bare      float64 // m³/s, what the collector moves without any ducts
	Filter    float64 // the filter's resistance over that of the clean one
	Currency  string  // "": no prices were given
	Sets      []Set
	Locked    []string // machines that are in no set, since a gate on their way is always shut
	Unstated  []string // machines that state no need, so that nothing counts as gained for them

	Short   int // spots, machines in sets that count, with less air than they need
	Needy   []Needy
	Tight   bool       // nobody is short: Needy is the tightest machine
	Advised []Proposal // the most air first
	Refused []Proposal // they would gain air, but dust would settle or a duct give way; the most air first
	Tried   int        // changes that were solved
	Idle    int        // of them, those that bring next to nothing, or take
	Lost    int        // of them, those without a state of balance in some set
	Steps   []Step
}

// Proposal is one change, solved.
type Proposal struct {
	Kind    Kind
	Place   string // proposals for one place are alternatives
	Text    string
	Assumes []string
	Gain    float64 // m³/s: the sum over the needy machines of what each gains in the mean over the sets in which it is short
	Gains   []Gain  // by needy machine
	Losses  []Loss
	Since   []Against // why it is refused; nil: it is not
	Short   int       // spots that are short with it
	Needs   []Item    // what has to be bought
	Cost    float64   // in the currency; NaN: not known
	Without []string  // what has no price
}

// PerMoney is the gain in m³/s for one unit of the currency; infinite where it costs nothing, NaN where the cost is not
// known.
func (p Proposal) PerMoney() float64 { return p.Gain / p.Cost }

// NewlyShort tells that some machine would lack air that it has now.
func (p Proposal) NewlyShort() bool {
	for _, l := range p.Losses {
		if l.NewlyShort {
			return true
		}
	}
	return false
}

// Step is one of several changes that are done one after the other, each solved with those before it in place.
type Step struct {
	Proposal
	Total float64  // the cost up to here; NaN: not known
	Still []string // machines that are still short somewhere
}

// Served tells that no machine is short where it counts, or none is any more after the last step.
func (a *Answer) Served() bool {
	if n := len(a.Steps); n > 0 {
		return len(a.Steps[n-1].Still) == 0
	}
	return a.Short == 0
}

// ByPlace groups proposals that are alternatives, in the order of the best of each.
func ByPlace(list []Proposal) [][]Proposal {
	var out [][]Proposal
	at := map[string]int{}
	for _, p := range list {
		i, known := at[p.Place]
		if !known {
			i = len(out)
			at[p.Place] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], p)
	}
	return out
}

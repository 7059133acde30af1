package compare

import (
	"math"

	"ductward/internal/verdict"
)

// Same is the change of a flow, over the flow, below which two drawings are said to give the same: a tenth of what a
// table with three digits can show.
const Same = 0.001

// Answer holds two drawings of one collector against each other. Machines, gates and runs bear the names of the second
// drawing, and those of the first where only it has them.
type Answer struct {
	Collector string
	Was       string     // the first drawing's name for it, where that is another
	Least     [2]float64 // m/s, what carries the dust, by drawing

	Renamed       [][2]string // machines, gates and selectors
	OnlyMachines  [2][]string // by drawing
	OnlyGates     [2][]string
	OnlySelectors [2][]string
	Sets          []Set
	AllPairs      bool // no pair was left out for their number
	Machines      []Machine
}

// Set is one set of open machines in both drawings.
type Set struct {
	Asked    string      // the names that were asked for; "": a set that was chosen here
	Missing  [2][]string // of these, the ones that a drawing lacks
	Machines []string    // those that are open in either drawing
	Sides    [2]*Side    // nil: not solved in that drawing
	Changes  []Change    // of the machines, where both drawings were solved
	NowSlow  []string    // runs that are slow in the second drawing and are not, or are not there, in the first
	NowCarry []string    // runs of both drawings that are slow in the first and are not in the second

	alone string // the one machine that was opened; "": another set
}

// Side is a set in one drawing.
type Side struct {
	FanFlow, FanRise, FilterDrop float64 // m³/s, Pa, Pa
	Verdict                      verdict.Verdict
}

// Change is what a set's two drawings give to one machine.
type Change struct {
	Machine string
	Open    [2]bool    // by drawing
	Flow    [2]float64 // m³/s; NaN: the drawing has no such machine, or was not solved
	Needs   [2]float64 // m³/s; NaN: not stated
}

// Gain is the second flow less the first (m³/s), NaN where one is not known.
func (c Change) Gain() float64 { return c.Flow[1] - c.Flow[0] }

// Share is the gain over the first flow, NaN where there is none or the machine is not open in both drawings.
func (c Change) Share() float64 {
	if !c.Open[0] || !c.Open[1] || c.Flow[0] == 0 {
		return math.NaN()
	}
	return c.Gain() / c.Flow[0]
}

// Turns tells which way a machine goes: 1 for more air, -1 for less, 0 for the same.
func (c Change) Turns() int {
	switch share := c.Share(); {
	case share > Same:
		return 1
	case share < -Same:
		return -1
	}
	return 0
}

// Short tells that the machine is open and gets less than it needs in one drawing.
func (c Change) Short(side int) bool { return c.Open[side] && c.Flow[side] < c.Needs[side] }

// NowShort tells that the machine has its air in the first drawing and is short in the second.
func (c Change) NowShort() bool { return c.Open[0] && !c.Short(0) && c.Short(1) }

// NowFed tells that the machine is short in the first drawing and has its air in the second.
func (c Change) NowFed() bool { return c.Open[1] && c.Short(0) && !c.Short(1) }

// Machine is what becomes of one machine over all sets in which it is open in both drawings.
type Machine struct {
	Name     string
	Was      string     // the first drawing's name, where that is another
	Needs    [2]float64 // m³/s, by drawing; NaN: not stated
	Sets     int
	Alone    *Change // nil: that set was not compared
	Least    Change  // where it gains least, or loses most, by share
	LeastIn  []string
	Most     Change
	MostIn   []string
	Short    [2]int // sets in which it is short, by drawing
	NowShort int    // sets in which it is short in the second drawing only
	NowFed   int
}

// Worse tells that in some set the second drawing leaves a machine short that had its air, lets dust settle in a run
// where it did not, or goes above what the ducts bear where it did not.
func (a *Answer) Worse() bool {
	for i := range a.Sets {
		if a.Sets[i].Worse() {
			return true
		}
	}
	return false
}

// Worse is the same for one set.
func (s *Set) Worse() bool {
	for _, c := range s.Changes {
		if c.NowShort() {
			return true
		}
	}
	return len(s.NowSlow) > 0 || s.NowOver()
}

// Better tells that the second drawing gives a machine its air that was short, or carries where the first did not.
func (s *Set) Better() bool {
	for _, c := range s.Changes {
		if c.NowFed() {
			return true
		}
	}
	return len(s.NowCarry) > 0
}

// NowOver tells that the suction is above the rating in the second drawing and was not in the first.
func (s *Set) NowOver() bool {
	return s.Sides[0] != nil && s.Sides[1] != nil && s.Sides[0].Verdict.Bears() && !s.Sides[1].Verdict.Bears()
}

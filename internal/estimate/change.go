package estimate

import (
	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
	"ductward/internal/finding"
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
	sizes   []Value   // by column: its size now if it is this one
	mean    float64   // of the size now, over the columns of its kind
	sd      float64
	finding string  // ID of its finding
	spread  float64 // days over which the error of its trace was spread when they were last fitted
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
func (e *Estimator) residual(d *dayData) detect.Information { return e.beyond(d.info, d.at) }

// beyond returns information about the changes less what is known to have changed by a day. It shares the matrix.
func (e *Estimator) beyond(info detect.Information, day int) detect.Information {
	var k mat.VecDense
	k.MulVec(info.Lambda, mat.NewVecDense(e.cols.changes, e.known(day)))
	k.SubVec(info.Eta, &k)
	return detect.Information{Lambda: info.Lambda, Eta: &k}
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

// sameClass tells whether two columns are of one class of change.
func (e *Estimator) sameClass(a, b int) bool { return e.class(a) == e.class(b) }

func without(cs []*change, c *change) []*change {
	var out []*change
	for _, o := range cs {
		if o != c {
			out = append(out, o)
		}
	}
	return out
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

// kindOf names the kind of a change. A leak is a gate's only where that is more probable than not.
func (e *Estimator) kindOf(c *change) finding.Kind {
	switch e.cols.kind(c.col) {
	case leakChange:
		if e.seatMass(c) > 0.5 {
			return finding.GateLeaks
		}
		if c.profile == detect.Ramp {
			return finding.GrowingLeak
		}
		return finding.NewLeak
	case blockChange:
		if c.mean < 0 {
			return finding.OpenSideChanged
		}
		return finding.DropBlocked
	case chokeChange:
		return finding.TrunkBlocked
	case tearChange:
		return finding.FilterLostResistance
	case fanChange:
		return finding.FanSlow
	case wheelChange, behindChange:
		return finding.RestrictionAfterTap
	}
	return finding.SensorDisagrees
}

// seatMass returns the probability that a leak passes a shut gate.
func (e *Estimator) seatMass(c *change) float64 {
	sum := 0.0
	for j, z := range e.cols.zones {
		if partKind(z) == "seat" {
			sum += c.mass[j]
		}
	}
	return sum
}

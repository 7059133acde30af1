package estimate

import (
	"fmt"
	"math"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/steady"
	"ductward/internal/whichopen"
)

// The shared state of runs whose gates are not known, in the order of its parts.
const (
	sharedFilter  = iota // log of the resistance over the shop file's
	sharedLeak           // m³/s at the reference suction beyond what is known
	sharedFan            // log of the fan's speed
	sharedDensity        // log of the air's density over what was measured or is usual
	sharedParts
)

// expectation is what the channels should read in one gate set, and how that changes. It is a pure function of its key,
// so that nobody's looking moves what is found.
type expectation struct {
	set      gateSet
	machines []int       // that draw air, by their number among the columns
	pred     []float64   // by channel, Pa
	rows     [][]float64 // [channel][sharedParts], relative
	blocks   [][]float64 // [channel][machine of machines], relative
	filter   float64     // log resistance that it was made at
	air      air.State
	flow     float64 // m³/s through the fan
	solved   bool
}

// expectations are kept by what they were made of.
type expectations map[string]*expectation

// The grid on which expectations are made: what lies between is linear.
const (
	unseenFilterGrid = 0.1
	unseenLimit      = 2000 // expectations kept, some 2 kB each
)

// expect returns what is expected in a gate set near a log resistance and in some air.
func (e *Estimator) expect(set *gateSet, filter float64, a air.State) *expectation {
	return e.expectLeak(set, filter, a, 0, -1)
}

// expectLeak is expect with a leak (m³/s) in a zone beside what is known.
func (e *Estimator) expectLeak(set *gateSet, filter float64, a air.State, leak float64, zone int) *expectation {
	s := &state{logFilter: unseenFilterGrid * math.Round(filter/unseenFilterGrid), params: e.known(len(e.summary)), globals: e.cal.globals}
	if zone >= 0 {
		s.params[zone] += leak
	}
	at, err := air.At(temperatureGrid*math.Round(a.Temperature/temperatureGrid), pressureGrid*math.Round(a.Pressure/pressureGrid), 0.5)
	if err != nil {
		return &expectation{}
	}
	key := fmt.Sprintf("%s;%.3f;%.0f;%.0f;%x", set.key, s.logFilter, at.Temperature, at.Pressure, digest(s))
	if x := e.expected[key]; x != nil {
		return x
	}
	x := e.solveExpected(set, s, at)
	if len(e.expected) >= unseenLimit {
		clear(e.expected)
	}
	e.expected[key] = x
	return x
}

// solveExpected solves a gate set from a cold start: what was solved before must not show.
func (e *Estimator) solveExpected(set *gateSet, s *state, at air.State) *expectation {
	v := e.viewer
	x := &expectation{set: *set, filter: s.logFilter, air: at}
	res, err := v.model.Solve(v.ductState(set, s, at))
	if err != nil {
		return x
	}
	x.flow = res.FanFlow
	ps := []duct.Param{{Kind: duct.LogFilter}, {Kind: duct.LogFanSpeed}, {Kind: duct.LogDensity}}
	leak := e.cols.commonLeak()
	if leak >= 0 {
		ps = append(ps, duct.Param{Kind: duct.LeakAt, Part: e.cols.zones[leak], Exponent: leakExponent})
	}
	first := len(ps)
	for _, m := range res.Machines {
		if col := e.cols.machine(m.Name); m.Open && col >= 0 {
			x.machines = append(x.machines, col-e.cols.block0)
			ps = append(ps, duct.Param{Kind: duct.LogBlock, Part: m.Name})
		}
	}
	sens, err := v.model.Sensitivity(res, ps)
	if err != nil {
		return x
	}
	x.set.kind = steady.Closed
	for _, m := range res.Machines {
		if m.Open {
			x.set.kind = steady.Running
		}
	}
	for _, si := range e.cols.sensor {
		p := res.Sensors[si].Value
		if p == 0 {
			p = 1e-3 // Pa, as a view has it
		}
		row := make([]float64, sharedParts)
		row[sharedFilter], row[sharedFan], row[sharedDensity] = sens[si][0]/p, sens[si][1]/p, sens[si][2]/p
		if leak >= 0 {
			row[sharedLeak] = sens[si][3] / p
		}
		var blocks []float64
		for k := range x.machines {
			blocks = append(blocks, sens[si][first+k]/p)
		}
		x.pred, x.rows, x.blocks = append(x.pred, p), append(x.rows, row), append(x.blocks, blocks)
	}
	x.solved = true
	return x
}

// commonLeak is the zone that stands for a leak anywhere in the trunk: the run with the last tap, or the first that no
// gate shuts; -1 where there is none.
func (k *columns) commonLeak() int {
	if k.straddle[2] > 0 {
		return k.straddle[0]
	}
	for j, z := range k.zones {
		if partKind(z) == "run" && !k.gated[j] {
			return j
		}
	}
	return -1
}

// candidate turns an expectation into one of the candidates for a run in some air. The mean is the logarithm of what the
// channels read with the shared state at zero; beside the bias that has been learnt of the set stands its error, and the
// hoods' scatter as it has been learnt.
func (e *Estimator) candidate(x *expectation, a air.State, hoods []float64) whichopen.Set {
	n := len(e.cols.channels)
	bias, variance := e.biasOf(x.set.key), e.biasVariance(&x.set)
	known := e.known(len(e.summary))
	dRho, dMu := math.Log(a.Density/x.air.Density), math.Log(a.Viscosity/x.air.Viscosity)
	out := whichopen.Set{Key: x.set.key, Machines: x.machines, Slope: x.rows}
	for c := range n {
		row := x.rows[c]
		out.Mean = append(out.Mean, math.Log(math.Abs(x.pred[c]))+math.Log1p(bias[c])+math.Log1p(known[e.cols.gain0+c])+
			row[sharedDensity]*dRho+row[sharedFilter]*(dMu-x.filter))
		cov := make([]float64, n)
		for d := range n {
			for k, m := range x.machines {
				cov[d] += x.blocks[c][k] * x.blocks[d][k] * hoods[m] * hoods[m]
			}
			cov[d] += row[sharedFan] * x.rows[d][sharedFan] * speedJitter * speedJitter
		}
		m := &e.cols.meters[c]
		cov[c] += m.run*m.run + m.day*m.day + m.air*m.air + variance[c]
		out.Cov = append(out.Cov, cov)
	}
	return out
}

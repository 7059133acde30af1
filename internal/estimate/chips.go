package estimate

import "math"

// While a machine cuts, its drop carries chips and loses more than when it idles, some ten times in a run. What that does to a
// mean is as large as what it does to the scatter, and goes one way: no number of runs makes it less, and a drop is not blocked
// that is only well used.
const (
	chipsAgain = 1.5 // times the usual variance of the samples, below which the air moves as ever
	chipsRuns  = 5.0 // over which it is followed
	chipsTimes = 4.0 // of that scatter, which a change of the drop must be: it carries chips for four fifths of the time at most
)

// hearChips takes in how much more the air moves in a run than it did in this gate set at first, as a scatter of the losses of
// the open drops: what all taps show together, each as a drop's loss moves it.
func (e *Estimator) hearChips(o *observation) {
	if e.cal == nil || len(o.set.machines) == 0 {
		return
	}
	v, _, _, err := e.viewer.at(o.set, &state{logFilter: e.filter.expect(e, nil), globals: e.cal.globals}, o.air)
	if err != nil {
		return
	}
	for _, m := range o.set.machines {
		var top, under float64
		for i, c := range o.have {
			usual, heard := e.faults.usual(e.cols.channels[c], o.set.key)
			s := channelOf(o.run, e.cols.channels[c])
			if !heard || s == nil || math.IsNaN(s.SD) || s.N < 20 {
				continue
			}
			gain := math.Pow(v.jac[c][e.cols.block0+m]*o.value[i], 2) / (usual * usual)
			top += gain * (s.SD*s.SD/(usual*usual) - chipsAgain)
			under += gain * gain
		}
		if under > 0 { // which of the machines cuts nobody knows
			e.chips[m] += (top/under/float64(len(o.set.machines)) - e.chips[m]) / chipsRuns
		}
	}
}

// chipsOf returns the standard deviation of the log of a drop's loss from what it carries.
func (e *Estimator) chipsOf(machine int) float64 { return math.Sqrt(max(e.chips[machine], 0)) }

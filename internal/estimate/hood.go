package estimate

import (
	"math"
	"slices"
	"time"
)

// A machine's hood and hose stand a little otherwise each time it is used, and how much otherwise is the shop's own: it
// decides more than anything else how much one use can tell. It is learnt from the record, use by use, by the likelihood
// of each of a row of standard deviations: a use whose deviation is seen as u with the error s has the density of a normal
// variable of variance h² + s².
const (
	hoodPrior   = 0.03 // of a machine's losses, each time it is used (common practice, no source)
	hoodDoubt   = 0.9  // standard deviation of the log of that, from shop to shop
	hoodShared  = 10.0 // uses' worth of belief that a machine is as its shop
	hoodKeep    = 0.99 // of what was learnt, from one day to the next: habits change
	hoodOutlier = 4.0  // standard deviations beyond which a use counts as if it lay there: it may be the change that is looked for
	useGap      = 5 * time.Minute

	hoodLeast = 0.01
	hoodMost  = 0.36
	hoodRatio = 1.25 // from one standard deviation of the row to the next
)

// hoods is what the uses so far say of the jitter of each machine's losses.
type hoods struct {
	usual float64     // before anything is seen
	alike float64     // uses' worth of belief that a machine is as its shop
	row   []float64   // standard deviations that are weighed
	log   [][]float64 // by machine and standard deviation: log likelihood
	uses  []float64   // by machine
	sds   []float64   `checkpoint:"-"` // by machine, as learnt so far; nil: to be worked out
}

// newHoods returns what is believed of machines whose losses usually jitter by a standard deviation, and by none below the
// least.
func newHoods(machines int, usual, least float64) hoods {
	h := hoods{usual: usual, alike: hoodShared, log: make([][]float64, machines), uses: make([]float64, machines)}
	for sd := least; sd < hoodMost; sd *= hoodRatio {
		h.row = append(h.row, sd)
	}
	for m := range h.log {
		h.log[m] = make([]float64, len(h.row))
	}
	return h
}

// sd returns the standard deviation of the log of a machine's losses from use to use.
func (h *hoods) sd(machine int) float64 { return h.all()[machine] }

// all returns those of all machines, as learnt so far. It is not to be changed.
func (h *hoods) all() []float64 {
	if h.sds == nil {
		h.sds = make([]float64, len(h.log))
		for m := range h.sds {
			h.sds[m] = h.learnt(m)
		}
	}
	return h.sds
}

func (h *hoods) learnt(machine int) float64 {
	all := 0.0
	for _, n := range h.uses {
		all += n
	}
	share := min(1, h.alike/max(all, 1)) // of what the others say
	var sum, weight float64
	top := math.Inf(-1)
	logs := make([]float64, len(h.row))
	for k, sd := range h.row {
		z := math.Log(sd/h.usual) / hoodDoubt
		logs[k] = -z * z / 2
		for m := range h.log {
			if m == machine {
				logs[k] += h.log[m][k]
			} else {
				logs[k] += share * h.log[m][k]
			}
		}
		top = max(top, logs[k])
	}
	for k, l := range logs {
		w := math.Exp(l - top)
		weight += w
		sum += w * h.row[k] * h.row[k]
	}
	return math.Sqrt(sum / weight)
}

// fade lets what was learnt count less, as a day has gone by.
func (h *hoods) fade() {
	h.sds = nil
	for m := range h.log {
		h.uses[m] *= hoodKeep
		for k := range h.log[m] {
			h.log[m][k] *= hoodKeep
		}
	}
}

// add takes in one run of a use that lasts several: the deviation that it shows, that deviation's variance, and the run's
// share of the use.
func (h *hoods) add(machine int, deviation, variance, share float64) {
	h.sds = nil
	h.uses[machine] += share
	for k, sd := range h.row {
		v := sd*sd + variance
		chi := min(deviation*deviation/v, hoodOutlier*hoodOutlier)
		h.log[machine][k] -= share * (math.Log(v) + chi) / 2
	}
}

// markUses counts, for each run of a day and each machine that draws air in it, over how many runs that use of the
// machine goes: its hood stands as it stands until the machine's gate is shut.
// They are numbered in the order in which they begin; machines tells which each is of.
func (e *Estimator) markUses(obs []observation) (machines []int) {
	begun, number := map[int]int{}, map[int]int{} // by machine: first run of its use, and the use's number
	close := func(m, end int) {
		for i := begun[m]; i < end; i++ {
			obs[i].shares[slices.Index(obs[i].set.machines, m)] = 1 / float64(end-begun[m])
		}
		delete(begun, m)
	}
	for i := range obs {
		o := &obs[i]
		o.shares, o.uses = make([]float64, len(o.set.machines)), make([]int, len(o.set.machines))
		for m := range len(e.cols.machines) {
			_, goes := begun[m]
			open := slices.Contains(o.set.machines, m)
			if goes && (!open || i > 0 && farApart(&obs[i-1], o)) {
				close(m, i)
				goes = false
			}
			if open && !goes {
				begun[m], number[m] = i, len(machines)
				machines = append(machines, m)
			}
			if open {
				o.uses[slices.Index(o.set.machines, m)] = number[m]
			}
		}
	}
	for m := range len(e.cols.machines) {
		if _, goes := begun[m]; goes {
			close(m, len(obs))
		}
	}
	return machines
}

// farApart tells whether so much time lies between two runs that nobody knows what was done to the hoods.
func farApart(a, b *observation) bool {
	return a.run.Boot != b.run.Boot || b.run.Start-a.run.End > useGap
}

// drawing lists the machines that draw air in a gate set, by their number among the columns.
func (e *Estimator) drawing(set *gateSet) []int {
	v, _, _, err := e.viewer.at(set, &state{}, e.standardAir())
	if err != nil {
		return nil // its runs are left out too
	}
	var out []int
	for _, col := range v.machines {
		out = append(out, col-e.cols.block0)
	}
	return out
}

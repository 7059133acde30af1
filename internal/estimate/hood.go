package estimate

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/mat"
)

// A machine's hood and hose stand a little otherwise each time it is used, and how much otherwise is the shop's own: it
// decides more than anything else how much one use can tell. It is learnt from the record, use by use, by the step of
// expectation and maximisation for the variance of a random effect (Dempster, Laird and Rubin 1977, Journal of the Royal
// Statistical Society B 39, 1–38, from memory): the mean square of the deviations, the uncertainty of each added.
const (
	hoodPrior   = 0.03 // of a machine's losses, each time it is used (common practice, no source)
	hoodBelief  = 20.0 // uses' worth of belief in that for the shop as a whole
	hoodShared  = 12.0 // uses' worth of belief that a machine is as its shop
	hoodLeast   = 0.015
	hoodMost    = 0.40
	hoodKeep    = 0.985 // of what was learnt, from one day to the next: habits change
	hoodOutlier = 4.0   // standard deviations beyond which a use counts no more: it may be the change that is looked for
	useGap      = 5 * time.Minute
)

// hoods is what the uses so far say of the jitter of each machine's losses.
type hoods struct {
	sum, uses []float64 // by machine: squares of the logs of the losses, and how many uses they stand for
}

func newHoods(machines int) hoods {
	return hoods{sum: make([]float64, machines), uses: make([]float64, machines)}
}

// clone returns a copy.
func (h *hoods) clone() hoods { return hoods{sum: slices.Clone(h.sum), uses: slices.Clone(h.uses)} }

// sd returns the standard deviation of the log of a machine's losses from use to use.
func (h *hoods) sd(machine int) float64 {
	sum, uses := hoodBelief*hoodPrior*hoodPrior, hoodBelief
	for m := range h.sum {
		sum += h.sum[m]
		uses += h.uses[m]
	}
	own := (hoodShared*sum/uses + h.sum[machine]) / (hoodShared + h.uses[machine])
	return min(max(math.Sqrt(own), hoodLeast), hoodMost)
}

// fade lets what was learnt count less, as a day has gone by.
func (h *hoods) fade() {
	for m := range h.sum {
		h.sum[m] *= hoodKeep
		h.uses[m] *= hoodKeep
	}
}

// add takes in one run of a use that lasts several: what it shows of the deviation, given how far it was thought to
// scatter (sd, over the use as a whole), and the run's share of the use.
func (h *hoods) add(machine int, mean, variance, share float64) {
	h.sum[machine] += share * (mean*mean + variance)
	h.uses[machine] += share
}

// markUses counts, for each run of a day and each machine that draws air in it, over how many runs that use of the
// machine goes: its hood stands as it stands until the machine's gate is shut.
func (e *Estimator) markUses(obs []observation) {
	begun := map[int]int{} // by machine: first run of its use
	close := func(m, end int) {
		for i := begun[m]; i < end; i++ {
			obs[i].shares[slices.Index(obs[i].set.machines, m)] = 1 / float64(end-begun[m])
		}
		delete(begun, m)
	}
	for i := range obs {
		o := &obs[i]
		o.shares = make([]float64, len(o.set.machines))
		for m := range len(e.cols.machines) {
			from, goes := begun[m]
			open := slices.Contains(o.set.machines, m)
			if goes && (!open || i > 0 && farApart(&obs[i-1], o)) {
				close(m, i)
				goes = false
			}
			if open && !goes {
				from = i
				begun[m] = from
			}
		}
	}
	for m := range len(e.cols.machines) {
		if _, goes := begun[m]; goes {
			close(m, len(obs))
		}
	}
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

// learnHoods takes what a day's runs show of the hoods, x being the day's most likely state and own the biases of its
// gate sets.
func (s *system) learnHoods(h *hoods, d *dayData, x *mat.VecDense, own map[string][]float64, scale float64) {
	for i := range s.rows {
		l, o := &s.rows[i], &d.obs[i]
		if len(l.y) == 0 {
			continue
		}
		rest := make([]float64, len(l.y))
		for r, y := range l.y {
			rest[r] = y - s.predict(l.x[r], x, own[o.set.key])
		}
		for k, m := range o.set.machines {
			s.e.learnUse(h, m, o.shares[k], s.e.cols.block0+m, l, rest, scale)
		}
	}
}

// learnUse takes what one run shows of one machine's hood from its whitened equations and what they leave over.
func (e *Estimator) learnUse(h *hoods, m int, share float64, col int, l *linear, rest []float64, scale float64) {
	prior := math.Pow(e.hoods.sd(m), 2) / share
	var jr, jj float64
	for r := range rest {
		jr += l.x[r][col] * rest[r]
		jj += l.x[r][col] * l.x[r][col]
	}
	if prior*jj < 0.02 {
		return // this run says nothing of it
	}
	mean := prior * jr * math.Sqrt(scale)
	most := hoodOutlier * math.Sqrt(prior)
	mean = min(max(mean, -most), most)
	h.add(m, mean*math.Sqrt(share), max(prior-prior*prior*jj, 0)*share, share)
}

package estimate

import (
	"slices"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// likeness is how far from the model something lies that is alike in all wyes of a shop: one physics holds in them, and one
// maker made most of them. Both are standard deviations: of what all wyes share, and of what each has besides.
type likeness struct{ all, each float64 }

// What laws in use say of a wye otherwise than the model does (the balance of momentum). They are the mean energy of the streams
// (ACGIH, Industrial Ventilation, from memory), a fixed share of each leg's own velocity pressure as tables of loss coefficients
// have it, and such tables by the ratio of the flows; worked out for a branch at 45° of 0.3 to 0.8 of the run's area.
var (
	passes = likeness{0.10, 0.05} // of its own velocity pressure, lost by the stream that passes straight: 0 to 0.15
	enters = likeness{0.15, 0.10} // and by the one that comes in from the branch: -0.35 to 0.1
	stands = likeness{0.30, 0.15} // see duct.State.Standing: -0.6 to 0.5
	mixes  = likeness{0.25, 0.15} // see duct.State.Mixing: -0.4 to 0.2
)

// otherwise is by how much a system differs from its ducts as they are believed, as standard deviations of logs of losses.
type otherwise struct{ drop, trunk float64 }

var (
	asDrawn   = otherwise{builtOtherwise, builtOtherwise}
	asAssumed = otherwise{dropOtherwise, trunkOtherwise}
)

// builtCovariance is the prior of the numbers that say how the system is built: each drop and each run of the trunk differs by
// itself, and wyes differ together. What a leg's stream loses by its own velocity pressure goes with the loss of the leg's run,
// which has the same form; left out, gate sets whose trunk loses more than drawn were explained by their sensors, and a change
// was looked for at the wrong place, surely (DEVELOPERS.md). It is nil where there are none.
func (v *viewer) builtCovariance() *mat.SymDense {
	n := v.unbuilt()
	if n == 0 {
		return nil
	}
	first := n - len(v.laws)
	out := mat.NewSymDense(n, nil)
	for i := range first {
		sd := v.otherwise.drop
		if i >= len(v.cols.machines) {
			sd = v.otherwise.trunk
		}
		out.SetSym(i, i, sd*sd)
	}
	straight, branch := v.legShares()
	stand, standBranch, mix := make([]float64, n), make([]float64, n), make([]float64, n)
	for i, law := range v.laws {
		switch {
		case law.Kind == duct.Mixed:
			mix[first+i] = 1
		case v.isBranch(law.Part):
			standBranch[first+i] = 1
		default:
			stand[first+i] = 1
		}
	}
	passes.addTo(out, straight)
	enters.addTo(out, branch)
	stands.addTo(out, stand)
	stands.addTo(out, standBranch)
	mixes.addTo(out, mix)
	return out
}

// addTo adds to the covariance of numbers what each of them takes of it.
func (a likeness) addTo(cov *mat.SymDense, weight []float64) {
	for i, x := range weight {
		for j, y := range weight[:i+1] {
			cov.SetSym(i, j, cov.At(i, j)+a.all*a.all*x*y)
		}
		cov.SetSym(i, i, cov.At(i, i)+a.each*a.each*x*x)
	}
}

func (v *viewer) isBranch(run string) bool {
	return slices.ContainsFunc(v.legs, func(l leg) bool { return l.branch && l.name == run })
}

// mostShare is the most that one velocity pressure is taken to be of a loss: a run of half a metre loses so little by itself that the
// logarithm of its loss is no measure of what its wye does.
const mostShare = 5.0

// legShares returns, by number, what one velocity pressure of a straight leg of a wye is of the loss that the number stands for, and
// what one of a branch is: of its drop or of its run of the trunk. All are 0 where the model has no solution.
func (v *viewer) legShares() (straight, branch []float64) {
	straight, branch = make([]float64, v.unbuilt()), make([]float64, v.unbuilt())
	res, err := v.model.Solve(v.ductState(&gateSet{setting: allOpen(v.collector)}, &state{}, air.Reference()))
	if err != nil {
		return straight, branch
	}
	runs := map[string]duct.RunFlow{}
	for _, r := range res.Runs {
		runs[r.Name] = r
	}
	for _, l := range v.legs {
		at, loss := v.lossOf(l.name, runs)
		if at < 0 || loss <= 0 {
			continue
		}
		speed := runs[l.name].Velocity
		share := min(air.Reference().Density/2*speed*speed/loss, mostShare)
		if l.branch {
			branch[at] = share
		} else {
			straight[at] = share
		}
	}
	return straight, branch
}

// allOpen is the setting with every gate open, each hose on its first port.
func allOpen(c *shop.Collector) shop.Setting {
	out := shop.Setting{Open: map[string]bool{}, Port: map[string]int{}}
	for _, g := range c.Gates {
		out.Open[g.Name] = true
	}
	for _, s := range c.Selectors {
		out.Port[s.Name] = 1
	}
	return out
}

// lossOf returns which of the numbers a run's loss is in, and the whole loss that this number stands for; -1 if there is none, as of
// a run behind a selector.
func (v *viewer) lossOf(run string, runs map[string]duct.RunFlow) (int, float64) {
	if i := slices.Index(v.cols.trunk, run); i >= 0 {
		return len(v.cols.machines) + i, runs[run].Loss
	}
	for i, m := range v.cols.machines {
		names := v.dropOf(m)
		if !slices.Contains(names, run) {
			continue
		}
		loss := 0.0
		for _, name := range names {
			loss += runs[name].Loss
		}
		return i, loss
	}
	return -1, 0
}

// dropOf lists the runs from a machine to the first joint; none of one that hangs on a selector's hose.
func (v *viewer) dropOf(machine string) []string {
	var out []string
	for _, r := range v.collector.PathOf(machine) {
		if len(out) == 0 && r.From.Kind != shop.EndMachine {
			break
		}
		out = append(out, r.Name)
		if r.To.Kind != shop.EndRun {
			break
		}
	}
	return out
}

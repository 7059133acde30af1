package shop

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/quantity"
)

// fastest is an air speed, in m/s, beyond which a stated need is likely a slip: machine makers ask for 20 to 28 m/s in
// the connection (DGUV Information 209-044, foreword).
const fastest = 60

// checkSense warns about numbers that are possible one by one and unlikely together.
func (p *parts) checkSense(g *graph) {
	most := 0.0
	for _, q := range p.Fan.Points {
		most = math.Max(most, q.Flow)
	}
	most *= p.Fan.RunningRatio()
	for _, m := range p.Machines {
		if most > 0 && m.Needs > most {
			p.warn(m.Line, fmt.Sprintf("machine %q: needs %s, and the fan's curve ends at %s", m.Name, flowText(m.Needs), flowText(most)), "check both numbers")
		}
		for _, r := range g.out[End{EndMachine, m.Name}] {
			if v := 4 * m.Needs / (math.Pi * r.Diameter * r.Diameter); v > fastest {
				p.warn(r.Line, fmt.Sprintf("run %q: the %s that %q needs would move at %.0f m/s in %s", r.Name, flowText(m.Needs), m.Name, v, plain(quantity.Length, r.Diameter, "mm")),
					"check the diameter and the need")
			}
		}
	}
	if !p.reader.failed() { // steps are judged where the drawing hangs together
		p.checkSteps()
	}
}

// checkSteps warns where a run leads into one of another diameter and nothing is lost there.
func (p *parts) checkSteps() {
	const same = 0.01 // relative: makers' sizes differ by that much
	for _, r := range p.Network.Runs {
		next := p.next(r)
		if next == nil || math.Abs(next.Diameter-r.Diameter) <= same*r.Diameter || losesAtStep(r) || losesAtStep(next) ||
			math.IsNaN(r.Diameter+next.Diameter) {
			continue
		}
		kind := "an expansion"
		if next.Diameter < r.Diameter {
			kind = "a contraction"
		}
		p.warn(r.Line, fmt.Sprintf("run %q: it leads from %s into the %s of run %q, and neither has %s", r.Name,
			plain(quantity.Length, r.Diameter, "mm"), plain(quantity.Length, next.Diameter, "mm"), next.Name, kind),
			"add the fitting to the run with the smaller diameter")
	}
}

// losesAtStep tells whether a run has a fitting that may stand for a step in diameter.
func losesAtStep(r *Run) bool {
	return slices.ContainsFunc(r.Fittings, func(f Fitting) bool {
		return f.Kind == Contraction || f.Kind == Expansion || f.Kind == FixedLoss || f.Kind == MeasuredLoss
	})
}

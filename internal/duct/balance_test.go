package duct_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// drawn is a chooser whose numbers rapid draws, and shrinks.
type drawn struct{ *rapid.T }

func (d drawn) float(lo, hi float64) float64 {
	// Steps of a thousandth: a shop is not written finer, and shrinks faster.
	return lo + (hi-lo)*float64(rapid.IntRange(0, 1000).Draw(d.T, "float"))/1000
}

func (d drawn) int(lo, hi int) int { return rapid.IntRange(lo, hi).Draw(d.T, "int") }

// audit recomputes the balance of every node and the law of every run from the answer alone, with formulas of its own.
type audit struct {
	c   *shop.Collector
	r   *duct.Result
	rho float64
	mu  float64
}

func newAudit(c *shop.Collector, r *duct.Result) *audit {
	return &audit{c: c, r: r, rho: 1.2, mu: 1.8134e-5}
}

// leakOf is what comes in along a run.
func (a *audit) leakOf(r *shop.Run) float64 {
	sum := 0.0
	for _, l := range a.r.Leaks {
		if l.Part == "run:"+r.Name || r.Gate != "" && l.Part == "drop:"+r.Gate {
			sum += l.Flow
		}
	}
	return sum
}

func (a *audit) flow(run string) duct.RunFlow {
	for _, f := range a.r.Runs {
		if f.Name == run {
			return f
		}
	}
	return duct.RunFlow{}
}

// start is the flow at the start of a run.
func (a *audit) start(r *shop.Run) float64 { return a.flow(r.Name).Flow - a.leakOf(r) }

// total is the total pressure at one end of a run.
func (a *audit) total(r *shop.Run, atEnd bool) float64 {
	f := a.flow(r.Name)
	area := math.Pi / 4 * r.Diameter * r.Diameter
	if atEnd {
		return f.StaticEnd + a.rho/2*math.Pow(f.Flow/area, 2)
	}
	return f.StaticStart + a.rho/2*math.Pow(a.start(r)/area, 2)
}

// balance is the worst imbalance of a junction and of the whole, m³/s.
func (a *audit) balance() float64 {
	worst := 0.0
	inlet := 0.0
	in := map[string]float64{}
	for _, r := range a.c.Network.Runs {
		if r.From.Kind == shop.EndJunction {
			in[r.From.Name] -= a.start(r)
		}
		if r.To.Kind == shop.EndJunction {
			in[r.To.Name] += a.flow(r.Name).Flow
		}
		if r.To.Kind == shop.EndCollector {
			inlet += a.flow(r.Name).Flow
		}
	}
	for _, q := range in {
		worst = math.Max(worst, math.Abs(q))
	}
	whole := 0.0
	for _, m := range a.r.Machines {
		whole += m.Flow
	}
	for _, l := range a.r.Leaks {
		if l.Part[:4] != "seat" { // what passes a seat comes in at a hood
			whole += l.Flow
		}
		if strings.HasPrefix(l.Part, "inlet:") {
			inlet += l.Flow
		}
	}
	return math.Max(worst, math.Max(math.Abs(inlet-a.r.FanFlow), math.Abs(whole-a.r.FanFlow)))
}

// lambda is the Darcy friction factor by bisection of the equation of Colebrook and White, laminar below Re 2300, NaN
// between there and 4000, where nobody knows.
func (a *audit) lambda(re, relative float64) float64 {
	if re < 2300 {
		return 64 / re
	}
	if re < 4000 {
		return math.NaN()
	}
	lo, hi := 1e-3, 1.0
	for range 200 {
		f := math.Sqrt(lo * hi)
		if 1/math.Sqrt(f)+2*math.Log10(relative/3.7+2.51/(re*math.Sqrt(f))) > 0 {
			lo = f
		} else {
			hi = f
		}
	}
	return lo
}

// friction is the pressure lost along half of a run's straight length at a flow.
func (a *audit) friction(r *shop.Run, q float64) float64 {
	v := q / (math.Pi / 4 * r.Diameter * r.Diameter)
	if v == 0 {
		return 0
	}
	re := a.rho * math.Abs(v) * r.Diameter / a.mu
	return a.lambda(re, r.Roughness/r.Diameter) * r.Stretch * r.Length / 2 / r.Diameter * a.rho / 2 * v * math.Abs(v)
}

// laws checks the friction of every run without fittings, and that total pressures meet at every lossless junction.
func (a *audit) laws(t require.TestingT) {
	wye := map[string]bool{}
	for _, j := range a.c.Network.Junctions {
		wye[j.Name] = j.Kind == shop.Wye
	}
	meets := map[string]float64{}
	for _, r := range a.c.Network.Runs {
		loss := a.friction(r, a.start(r)) + a.friction(r, a.flow(r.Name).Flow)
		if r.Gate == "" && len(r.Fittings) == 0 && !math.IsNaN(loss) {
			assert.InDelta(t, loss, a.flow(r.Name).Loss, 1e-3+1e-4*math.Abs(loss), "loss of %s, Pa", r.Name)
			assert.InDelta(t, loss, a.total(r, false)-a.total(r, true), 1e-3+1e-4*math.Abs(loss), "pressures of %s, Pa", r.Name)
		}
		for _, end := range []struct {
			at    shop.End
			total float64
		}{{r.From, a.total(r, false)}, {r.To, a.total(r, true)}} {
			if end.at.Kind != shop.EndJunction || wye[end.at.Name] {
				continue
			}
			if p, met := meets[end.at.Name]; met {
				assert.InDelta(t, p, end.total, 1e-6, "total pressures at %s, Pa", end.at.Name)
			}
			meets[end.at.Name] = end.total
		}
	}
	a.wyes(t)
}

// wyes checks the balance of momentum of every wye in which both streams flow in.
func (a *audit) wyes(t require.TestingT) {
	for _, j := range a.c.Network.Junctions {
		if j.Kind != shop.Wye {
			continue
		}
		straight, branch := a.flow(j.Straight).Flow, a.flow(j.Branch).Flow
		if straight < 0 || branch < 0 {
			continue
		}
		var s, b, out *shop.Run
		for _, r := range a.c.Network.Runs {
			switch {
			case r.Name == j.Straight:
				s = r
			case r.Name == j.Branch:
				b = r
			case r.From.Kind == shop.EndJunction && r.From.Name == j.Name:
				out = r
			}
		}
		area := func(r *shop.Run) float64 { return math.Pi / 4 * r.Diameter * r.Diameter }
		vs, vb, vc := straight/area(s), branch/area(b), (straight+branch)/area(out)
		momentum := (straight*vs + branch*vb*math.Cos(j.Angle)) / area(out)
		static := a.rho * (vc*vc - momentum) // over that of the combined leg
		combined := a.total(out, false) - a.rho/2*vc*vc
		assert.InDelta(t, combined+static+a.rho/2*vs*vs, a.total(s, true), 1e-3, "straight leg of %s, Pa", j.Name)
		assert.InDelta(t, combined+static+a.rho/2*vb*vb, a.total(b, true), 1e-3, "branch of %s, Pa", j.Name)
	}
}

// fan checks that the pressures of the collector close the circuit.
func (a *audit) fan(t require.TestingT, rise func(q float64) float64) {
	assert.InDelta(t, rise(a.r.FanFlow), a.r.FanRise, 0.003*rise(0), "fan, Pa")
}

// Whatever the shop and the gates: the flows balance at every node, and every run, joint and wye obeys its law, as
// recomputed from the answer alone.
func TestAnswerObeysItsLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		c := randomShop(d, d.int(2, 9), false)
		m, err := duct.New(c)
		require.NoError(t, err)
		r, err := m.Solve(duct.State{Setting: setting(c, rapid.Uint64().Draw(t, "gates"))})
		require.NoError(t, err)
		require.True(t, r.Converged)
		a := newAudit(c, r)
		assert.Less(t, a.balance(), 1e-10, "m³/s")
		assert.LessOrEqual(t, r.WorstResidual, 1e-11)
		a.laws(t)
		top, reach := c.Fan.Points[0].Pressure, c.Fan.Points[10].Flow
		if r.FanFlow > 0.02*reach && r.FanFlow < reach {
			a.fan(t, func(q float64) float64 { // the parabola through the points; straight lines sag by up to 0.3 %
				x := q / reach
				return top * (1 - 0.05*x - 0.85*x*x)
			})
		}
	})
}

package main

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

const (
	viscosity = 1.81e-5 // Pa·s, air at 18 °C (from memory)
	reference = 1500.0  // Pa, at which openings are told
)

// opening lets air in: size m³/s at the reference suction.
type opening struct {
	size, exponent float64
}

// into returns the flow through an opening behind which the gauge pressure p is; air goes out where it is above the room's.
func (o opening) into(p float64) float64 {
	if o.size == 0 {
		return 0
	}
	return -math.Copysign(o.size*math.Pow(math.Abs(p)/reference, o.exponent), p)
}

// limb is a stretch of one diameter: from a machine, a wider limb or a wye to the next wye, or to the collector.
type limb struct {
	name     string  // of its run in the shop's file; of a machine's, of the run behind the hose
	from     *wye    // where it begins, or
	after    *limb   // which it widens, or
	machine  int     // whose it is
	diameter float64 // m
	length   float64 // m, without the hose
	bends    int
	local    float64 // coefficient of its bends on its own velocity pressure
	rough    float64 // factor on its friction
	built    float64 // factor on all that it loses: as it was built, against the drawing
	hose     float64 // of a machine's: length of its hose, m
	hood     float64 // Pa that the hood takes of 1 m³/s of standard air
	seams    opening // of the run, or of the drop between its gate and the wye
	seat     opening // of the gate
	openSide opening // of what lies between the machine and the gate
}

func (l *limb) area() float64 { return math.Pi / 4 * l.diameter * l.diameter }

// wye joins two limbs.
type wye struct {
	name             string
	straight, branch *limb
	angle            float64
}

// air is the room's.
type air struct{ rho float64 }

// condition is the state of the plant at a moment.
type condition struct {
	open   []bool
	hood   []float64 // by machine: factor on what its hood and hose lose
	block  []float64 // by machine: factor on what its drop loses
	choke  map[*limb]float64
	filter float64 // resistance against the clean one
	speed  float64 // of the fan
	tight  float64 // Pa that a restriction between filter and fan takes of 1 m³/s of standard air
	tear   opening // in the filter's media; its suction is the filter's drop
	lid    opening // of the separator and its bin
	air    air
}

// choked returns the factor on a limb's losses.
func (c *condition) choked(l *limb) float64 {
	if f, ok := c.choke[l]; ok {
		return f
	}
	return 1
}

// reading is what is read of a state that has been solved.
type reading struct {
	filterDrop, trunkStatic, trunkVelocity, farStatic, middleStatic float64 // Pa
	total                                                           float64 // m³/s through the fan
}

// end is air at the end of a limb.
type end struct{ flow, total float64 }

// drag returns what a limb loses of total pressure, without its hood.
func (l *limb) drag(q float64, c *condition, part float64) float64 {
	if q == 0 {
		return 0
	}
	s := stream{q, l.area()}
	re := math.Max(c.air.rho*math.Abs(q)/s.area*l.diameter/viscosity, 2000)
	friction := 0.184 * math.Pow(re, -0.2) * l.rough // turbulent flow in smooth pipe (McAdams), made rough by a factor
	return (friction*l.length*part/l.diameter + l.local*part) * l.built * s.pressure(c.air.rho)
}

// follow walks down a limb from its begin; half-way its seams let air in.
func (l *limb) follow(e end, c *condition, factor float64) end {
	e.total -= factor * l.drag(e.flow, c, 0.5)
	static := e.total - stream{e.flow, l.area()}.pressure(c.air.rho)
	e.flow += l.seams.into(static)
	e.total -= factor * l.drag(e.flow, c, 0.5)
	return e
}

// leaf starts a limb at its machine: x is the flow of an open gate, or minus the pressure behind a shut one.
func (p *plant) leaf(l *limb, x float64, c *condition) end {
	var e end
	i := l.machine
	if c.open[i] {
		s := stream{x, l.area()}
		hose := 0.184 * 0.1 * 3.2 * l.hose / l.diameter * s.pressure(c.air.rho) // as drawn, at a Reynolds number of 1e5, rough by 3.2
		lost := (l.hood*c.air.rho/1.2*x*math.Abs(x) + hose) * c.hood[i] * l.built
		e = end{x, -lost * c.block[i]}
		e.flow += l.openSide.into(e.total - s.pressure(c.air.rho))
	} else {
		e = end{l.seat.into(-x), -x}
	}
	return l.follow(e, c, c.block[i])
}

// at returns the air at the end of a limb, and notes on the way how unequal the legs of each wye come together.
func (p *plant) at(l *limb, x []float64, c *condition, off *[]float64, r *reading) end {
	var e end
	switch {
	case l.after != nil:
		e = p.at(l.after, x, c, off, r)
		widened := stream{e.flow, l.after.area()}.pressure(c.air.rho) - stream{e.flow, l.area()}.pressure(c.air.rho)
		e.total -= 0.3 * widened
		e = l.follow(e, c, c.choked(l))
	case l.from == nil:
		e = p.leaf(l, x[l.machine], c)
	default:
		w := l.from
		s, b := p.at(w.straight, x, c, off, r), p.at(w.branch, x, c, off, r)
		q := s.flow + b.flow
		rho := c.air.rho
		ls, lb := p.law.losses(rho, stream{s.flow, w.straight.area()}, stream{b.flow, w.branch.area()}, stream{q, l.area()}, w.angle)
		ls, lb = ls*p.wyes, lb*p.wyes
		*off = append(*off, (s.total-ls)-(b.total-lb))
		e = end{q, (s.total - ls + b.total - lb) / 2}
		e = l.follow(e, c, c.choked(l))
	}
	static := e.total - stream{e.flow, l.area()}.pressure(c.air.rho)
	switch l {
	case p.far:
		r.farStatic = static
	case p.middle:
		r.middleStatic = static
	}
	return e
}

// misfit returns by how much a guess fails: at each wye, and at the fan.
func (p *plant) misfit(x []float64, c *condition, r *reading) []float64 {
	var off []float64
	e := p.at(p.trunk, x, c, &off, r)
	pv := stream{e.flow, p.trunk.area()}.pressure(c.air.rho)
	r.trunkStatic, r.trunkVelocity = e.total-pv, pv
	e.flow += c.lid.into(e.total)
	e.total -= p.separator * c.air.rho / 1.2 * e.flow * e.flow
	r.filterDrop = p.dropOf(e.flow, c)
	r.total = e.flow
	e.total -= r.filterDrop + (c.tight+p.discharge)*c.air.rho/1.2*e.flow*e.flow
	return append(off, e.total+p.fan(e.flow/c.speed)*c.speed*c.speed*c.air.rho/1.2)
}

// dropOf returns the filter's: its housing, and its media beside a tear.
func (p *plant) dropOf(q float64, c *condition) float64 {
	housing := p.housing * c.air.rho / 1.2 * q * q
	media := p.media * c.filter * math.Pow(math.Abs(q), p.cake) * math.Pow(0.6, 1-p.cake)
	if c.tear.size == 0 {
		return housing + media
	}
	low, high := 0.0, media
	for range 60 { // both ways lie beside each other
		mid := (low + high) / 2
		if math.Pow(mid/(p.media*c.filter*math.Pow(0.6, 1-p.cake)), 1/p.cake)+c.tear.into(-mid) < q {
			low = mid
		} else {
			high = mid
		}
	}
	return housing + low
}

// solve finds the flows by Newton's method with differences, each step shortened until it helps. It starts at x and leaves the
// answer there.
func (p *plant) solve(x []float64, c *condition) (reading, bool) {
	var r reading
	f := p.misfit(x, c, &r)
	for range 200 {
		if largest(f) < 1e-7 {
			return r, true
		}
		var step mat.VecDense
		if err := step.SolveVec(p.slopes(x, f, c), mat.NewVecDense(len(f), f)); err != nil && step.Len() == 0 {
			break
		}
		ok := false
		for k := 1.0; k > 1e-6; k /= 2 {
			y := make([]float64, len(x))
			for i := range x {
				y[i] = x[i] - k*step.AtVec(i)
				if !c.open[i] {
					y[i] = math.Max(y[i], x[i]/4) // behind a shut gate there is suction
				}
			}
			var s reading
			g := p.misfit(y, c, &s)
			if floats.Norm(g, 2) < floats.Norm(f, 2) || largest(g) < 1e-7 {
				copy(x, y)
				f, r, ok = g, s, true
				break
			}
		}
		if !ok {
			break
		}
	}
	return r, largest(f) < 1e-4
}

// slopes returns how the misfit goes with each part of the guess.
func (p *plant) slopes(x, f []float64, c *condition) *mat.Dense {
	out := mat.NewDense(len(f), len(x), nil)
	y := append([]float64(nil), x...)
	for j := range x {
		h := 1e-6 * math.Max(math.Abs(x[j]), 1e-3)
		y[j] = x[j] + h
		var r reading
		for i, g := range p.misfit(y, c, &r) {
			out.Set(i, j, (g-f[i])/h)
		}
		y[j] = x[j]
	}
	return out
}

func largest(x []float64) float64 { return floats.Norm(x, math.Inf(1)) }

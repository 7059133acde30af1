package main

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// plant is a shop with its ducts as they were built, which the drawing does not tell.
type plant struct {
	machines  []string
	needs     []float64 // m³/s
	limbs     []*limb   // upstream ones first
	wyesDrawn []*wye
	drops     []*limb // by machine
	trunk     *limb   // the last
	far       *limb   // at whose end the far tap lies, and the middle one
	middle    *limb
	law       law
	wyes      float64 // factor on what all wyes lose

	separator, discharge float64 // Pa at 1 m³/s of standard air
	housing, media       float64 // of the filter: Pa at 1 m³/s of standard air, and at 1 m³/s of any
	housingDrawn         float64
	cake                 float64 // exponent of the flow through the media's dust: 1, as of creeping flow, or hardly more
	shutOff, most        float64 // of the fan by its maker: Pa, m³/s
	stronger, wider      float64 // and what it does in truth
	bent                 float64
}

var names = []string{"rip saw", "jointer", "shaper", "bandsaw", "morticer", "drum sander", "router", "panel saw", "pin router"}

// fan returns the pressure that the fan adds at its own speed, Pa, standard air.
func (p *plant) fan(q float64) float64 {
	return fanCurve(q, p.shutOff*p.stronger, p.most*p.wider, p.bent)
}

func fanCurve(q, shutOff, most, bent float64) float64 {
	x := math.Max(q/most, 0)
	return shutOff * (1 - 0.04*x - 0.96*math.Pow(x, bent))
}

// drawn is what of a plant the drawing and the makers' sheets do not tell, as standard deviations of logarithms.
type drawn struct {
	built float64 // of each limb's losses
	fan   float64
	leaks float64
}

// newPlant draws a shop. l < 0 draws the law too.
func newPlant(r *rand.Rand, l int, d drawn) *plant {
	p := &plant{law: law(l), wyes: math.Exp(0.1 * r.NormFloat64())}
	if l < 0 {
		p.law = law(r.IntN(laws))
	}
	n := 6 + r.IntN(4)
	order := r.Perm(len(names))
	for i := range n {
		p.machines = append(p.machines, names[order[i]])
	}
	width := 0.01 * float64(18+r.IntN(5))
	lines := 1 + r.IntN(2)
	if lines == 1 {
		p.trunk = p.line(r, 0, n, width, "trunk", 7)
		p.middle = p.limbs[len(p.limbs)/2]
	} else {
		k := n/2 + r.IntN(2)
		a := p.line(r, 0, k, width-0.01, "left", 3)
		p.middle = a
		b := p.line(r, k, n, width-0.02, "right", 3)
		p.trunk = p.join(r, a, b, "main wye", &limb{name: "main", diameter: width + 0.02, length: 4 + 5*r.Float64(), bends: 2})
	}
	for p.middle.from == nil && p.middle.after == nil { // not a drop
		p.middle = p.limbs[1+r.IntN(len(p.limbs)-1)]
	}
	p.far = p.drops[0]
	p.sheet(r, d)
	for _, x := range p.limbs {
		p.finish(r, x, d)
	}
	return p
}

// line draws machines one after another along a run. The last stretch is long.
func (p *plant) line(r *rand.Rand, from, to int, width float64, name string, last float64) *limb {
	first := p.drop(r, from)
	run := &limb{name: name + " 1", after: first, diameter: width, length: 2 + 3*r.Float64()}
	p.limbs = append(p.limbs, run)
	for i := from + 1; i < to; i++ {
		next := &limb{name: fmt.Sprintf("%s %d", name, i-from+1), diameter: width, length: 2 + 3*r.Float64()}
		if i == to-1 {
			next.length, next.bends = last+2*r.Float64(), 1+r.IntN(2)
		}
		run = p.join(r, run, p.drop(r, i), p.machines[i]+" wye", next)
	}
	return run
}

func (p *plant) join(r *rand.Rand, straight, branch *limb, name string, next *limb) *limb {
	w := &wye{name: name, straight: straight, branch: branch, angle: math.Pi / 4}
	if r.IntN(3) == 0 {
		w.angle = math.Pi / 6
	}
	next.from = w
	p.wyesDrawn = append(p.wyesDrawn, w)
	p.limbs = append(p.limbs, next)
	return next
}

// drop draws a machine's hood, hose, gate and drop.
func (p *plant) drop(r *rand.Rand, i int) *limb {
	d := 0.01 * float64(10+2*r.IntN(4))
	l := &limb{name: p.machines[i] + " drop", machine: i, diameter: d, length: 2 + 3*r.Float64(), bends: 1 + r.IntN(2), hose: 0.8 + r.Float64()}
	need := 0.01 * math.Round(100*20*l.area())
	l.hood = (400 + 350*r.Float64()) / need / need
	l.seat = opening{size: (1.5 + 3*r.Float64()) / 3600, exponent: 0.5 + 0.1*r.Float64()}
	p.needs = append(p.needs, need)
	p.drops = append(p.drops, l)
	p.limbs = append(p.limbs, l)
	return l
}

// sheet draws the collector.
func (p *plant) sheet(r *rand.Rand, d drawn) {
	usual := 0.6 + 0.15*r.Float64() // m³/s
	p.separator = (200 + 80*r.Float64()) / usual / usual
	p.housingDrawn = 40 / usual / usual
	p.housing = p.housingDrawn * math.Exp(0.4*r.NormFloat64())
	p.cake = 1 + 0.01*r.Float64()
	p.media = (450 + 200*r.Float64()) / usual
	p.shutOff, p.most = 2900+500*r.Float64(), 1.9*usual
	p.discharge = 100 * math.Exp(0.2*r.NormFloat64())
	p.stronger, p.wider = math.Exp(d.fan*r.NormFloat64()), math.Exp(d.fan*r.NormFloat64())
	p.bent = 2.6 + 0.1*r.NormFloat64()
}

// finish builds a limb otherwise than it is drawn.
func (p *plant) finish(r *rand.Rand, l *limb, d drawn) {
	l.local = float64(l.bends) * 0.24 * math.Exp(0.1*r.NormFloat64())
	l.rough = 1.15 * math.Exp(0.05*r.NormFloat64())
	l.built = math.Exp(d.built * r.NormFloat64())
	surface := math.Pi * l.diameter * l.length
	// class C of EN 12237: 0.003·p^0.65 l/s/m² (from memory)
	l.seams = opening{size: 0.003e-3 * math.Pow(reference, 0.65) * surface * math.Exp(d.leaks*r.NormFloat64()), exponent: 0.5 + 0.15*r.Float64()}
	l.seat.size *= math.Exp(d.leaks * r.NormFloat64())
	l.openSide.exponent = 0.5 + 0.1*r.Float64()
}

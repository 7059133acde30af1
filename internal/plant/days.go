package plant

import (
	"math"
	"math/rand/v2"

	"ductward/internal/shop"
)

// NewDay draws what changes from day to day: the fan's speed, the sensors' zeros and each pressure's unexplained error.
func (p *Plant) NewDay() { p.newDay(false) }

// zeroPull is how much of a zero's distance from its first value a day brings back: zeros wander, but not for ever.
const zeroPull = 0.02

func (p *Plant) newDay(first bool) {
	p.fanDay, p.dirty = p.o.FanDay*p.days.NormFloat64(), true
	for i := range p.machines {
		p.machines[i].usedToday = false
		if p.o.HoodCreep > 0 && !first {
			p.machines[i].crept *= lognormal(p.creep, p.o.HoodCreep)
		}
	}
	for _, t := range p.taps {
		e, z := p.days.NormFloat64(), p.days.NormFloat64()
		sd := p.o.DayError
		switch {
		case t.sensor.Measures == shop.FanPower:
			sd = p.o.PowerDay
		case !t.pressure:
			continue
		}
		if first {
			t.day = sd * e
			continue
		}
		t.day = p.o.DayAR*t.day + math.Sqrt(1-p.o.DayAR*p.o.DayAR)*sd*e
		if t.pressure {
			t.zero = t.zero*(1-zeroPull) + p.o.ZeroDay*z
		}
	}
}

// wander is the fan's speed within the day, as knots of a correlated series a minute apart, made as time goes on.
type wander struct {
	sd, keep float64
	rng      *rand.Rand
	knots    [wanderKnots]float64 // the last ones, by number modulo their count
	made     int
}

const (
	wanderStep  = 60.0 // s between knots
	wanderKnots = 1024 // how far taps may lag behind each other: 17 hours
)

// newWander starts the series.
func newWander(o Options) wander {
	return wander{sd: o.FanWander, keep: math.Exp(-wanderStep / o.WanderTime), rng: o.stream(wanderStream)}
}

// at returns the relative error of speed at a tap's time, s.
func (w *wander) at(t float64) float64 {
	if w.sd == 0 {
		return 0
	}
	x := t / wanderStep
	k := int(x)
	for w.made <= k+1 {
		last := w.knots[(w.made+wanderKnots-1)%wanderKnots]
		if w.made == 0 {
			w.knots[0] = w.sd * w.rng.NormFloat64()
		} else {
			w.knots[w.made%wanderKnots] = w.keep*last + w.sd*math.Sqrt(1-w.keep*w.keep)*w.rng.NormFloat64()
		}
		w.made++
	}
	f := x - float64(k)
	return w.knots[k%wanderKnots]*(1-f) + w.knots[(k+1)%wanderKnots]*f
}

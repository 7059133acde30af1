package plant

import (
	"math"
)

// settled returns the mean with the fan's speed off by a relative wander, and the filter where it is now.
func (t *Tap) settled(wander float64) float64 {
	s := &t.p.state
	m := s.mean[t.i] + s.bySpeed[t.i]*wander
	if t.p.filterRatio != s.ratio {
		m += s.byRatio[t.i] * math.Log(t.p.filterRatio/s.ratio)
	}
	return m
}

// How long readings take to follow, s.
const (
	gateLag  = 1.2   // the air in the ducts after a gate has moved
	runUpLag = 2.5   // the fan's run-up
	coastLag = 9.0   // its run-down
	plugLag  = 240.0 // a tap that is all but plugged
)

// Sample returns what the sensor says dt seconds after its last sample (dt ≥ 0): the settled value with the fan's
// wander, its lag, the day's unexplained error, turbulence, gain and zero. Sensors of the air are exact, those of the fan
// have no lag and no zero.
func (t *Tap) Sample(dt float64) float64 {
	p := t.p
	if p.dirty {
		_ = p.Err() // the means are NaN then, and so is the sample
	}
	if p.err != nil {
		return math.NaN()
	}
	t.clock += dt
	target := t.settled(p.wander.at(t.clock))
	if !t.pressure {
		return t.metered(target, t.rng.NormFloat64)
	}
	if dt != t.lastStep {
		t.lastStep = dt
		t.keep = math.Exp(-dt / t.tau)
		t.innovate = math.Sqrt(1 - t.keep*t.keep)
	}
	t.follow(target, dt)
	t.eddy = t.keep*t.eddy + t.innovate*t.rng.NormFloat64()
	noise := p.state.noise[t.i] * t.eddy
	if t.plugged {
		noise *= pluggedNoise
	}
	return (t.lagged*(1+t.day)+noise)*(1+t.gain) + t.zero + t.offset
}

// pluggedNoise is the share of turbulence that still reaches a sensor behind an all but plugged tap.
const pluggedNoise = 0.05

// follow moves the lagged value towards its target.
func (t *Tap) follow(target, dt float64) {
	if !t.started {
		t.started, t.lagged = true, target
		return
	}
	gap := target - t.lagged
	if math.Abs(gap) < 1e-3 {
		t.lagged = target
		return
	}
	lag := gateLag
	if !t.p.fanOn {
		lag = coastLag
	} else if math.Abs(t.lagged) < 0.3*math.Abs(target) {
		lag = runUpLag
	}
	if t.plugged {
		lag = plugLag
	}
	t.lagged += gap * (1 - math.Exp(-dt/lag))
}

// metered returns what a sensor that sits in no air says of a settled value, with a standard normal number for its noise.
func (t *Tap) metered(v float64, normal func() float64) float64 {
	out := v * (1 + t.day) * (1 + t.gain)
	if noise := t.p.state.noise[t.i]; noise > 0 {
		out += noise * normal() * (1 + t.gain)
	}
	return out
}

// Window returns the mean and the s.d. of the samples, dt apart, of a settled stretch of the given length, in
// distribution the same as that many calls of Sample but at the cost of one. The tap's clock moves on by the stretch.
func (t *Tap) Window(seconds, dt float64) (mean, sd float64) {
	p := t.p
	if p.Err() != nil {
		return math.NaN(), math.NaN()
	}
	n := math.Max(1, math.Floor(seconds/dt+0.5))
	w := (p.wander.at(t.clock) + p.wander.at(t.clock+seconds/2) + p.wander.at(t.clock+seconds)) / 3
	t.clock += seconds
	t.lagged, t.started = t.settled(w), true
	if !t.pressure {
		root := math.Sqrt(n)
		mean = t.metered(t.lagged, func() float64 { return t.rng.NormFloat64() / root })
		return mean, p.state.noise[t.i] * (1 + t.gain)
	}
	a := math.Exp(-dt / t.tau)
	of := (n*(1-a*a) - 2*a*(1-math.Pow(a, n))) / (n * n * (1 - a) * (1 - a)) // variance of the mean of n correlated samples
	s := p.state.noise[t.i]
	if t.plugged {
		s *= pluggedNoise
	}
	t.eddy = t.rng.NormFloat64()
	mean = (t.lagged*(1+t.day)+s*math.Sqrt(of)*t.rng.NormFloat64())*(1+t.gain) + t.zero + t.offset
	if n < 2 {
		return mean, 0
	}
	free := math.Max(2, n*(1-a*a)/(1+a*a)) // equivalent samples of a variance
	chi := 1 + math.Sqrt(2/free)*t.rng.NormFloat64()
	return mean, s * (1 + t.gain) * math.Sqrt(math.Max(0.05, 1-of)*math.Max(0.05, chi))
}

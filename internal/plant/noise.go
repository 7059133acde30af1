package plant

import (
	"math"
	"math/rand/v2"

	"ductward/internal/shop"
)

// Tap is one sensor at its tap, with its own errors and its own random numbers.
type Tap struct {
	p        *Plant
	i        int
	sensor   *shop.Sensor
	channel  string
	run      int // index of the run that it sits in; -1: none
	pressure bool
	rng      *rand.Rand

	gain     float64 // constant, relative
	zero     float64 // Pa, this day's
	offset   float64 // Pa, a fault set by SetZero
	day      float64 // relative, this day's unexplained error
	plugged  bool
	tau      float64 // s, correlation time of turbulence
	eddy     float64 // standard normal, the turbulence now
	lagged   float64 // what the sensor has settled to, Pa
	started  bool
	clock    float64 // s of samples taken
	lastStep float64
	keep     float64 // exp(−step/tau) for lastStep
	innovate float64
}

// lognormal draws exp(sd·N(0,1)); exactly 1 for sd 0.
func lognormal(r *rand.Rand, sd float64) float64 { return math.Exp(sd * r.NormFloat64()) }

// makeTaps puts up the collector's sensors.
func (p *Plant) makeTaps() {
	n := len(p.c.Sensors)
	p.state = solution{mean: make([]float64, n), noise: make([]float64, n),
		bySpeed: make([]float64, n), byRatio: make([]float64, n)}
	for i, s := range p.c.Sensors {
		t := &Tap{p: p, i: i, sensor: s, channel: p.c.Name + "/" + s.Name, run: -1, rng: p.o.stream(tapStream + uint64(i))}
		if r, ok := p.runAt[s.Run]; ok {
			t.run = r
		}
		switch s.Measures {
		case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
			t.pressure = true
			t.gain = p.o.Gain * t.rng.NormFloat64()
			t.zero = p.o.ZeroStart * t.rng.NormFloat64()
		}
		t.tau = p.o.NoiseTime[0] + (p.o.NoiseTime[1]-p.o.NoiseTime[0])*t.rng.Float64()
		t.eddy = t.rng.NormFloat64()
		p.taps = append(p.taps, t)
		p.tapAt[t.channel] = t
	}
}

// Channels lists the channels in the order of the description's sensors.
func (p *Plant) Channels() []string {
	out := make([]string, len(p.taps))
	for i, t := range p.taps {
		out[i] = t.channel
	}
	return out
}

// Tap returns a channel's tap, nil if there is none. Sampling by tap saves the look-up.
func (p *Plant) Tap(channel string) *Tap { return p.tapAt[channel] }

// Mean returns what a perfect sensor would read in the settled state, SI; NaN for a channel that does not exist or a
// state that has no solution (Err).
func (p *Plant) Mean(channel string) float64 {
	t := p.tapAt[channel]
	if t == nil {
		return math.NaN()
	}
	return t.Mean()
}

// Sample returns the next sample of a channel, dt seconds after its last one; see Tap.Sample.
func (p *Plant) Sample(channel string, dt float64) float64 {
	t := p.tapAt[channel]
	if t == nil {
		return math.NaN()
	}
	return t.Sample(dt)
}

// Window returns mean and s.d. of a channel's samples over a stretch; see Tap.Window.
func (p *Plant) Window(channel string, seconds, dt float64) (mean, sd float64) {
	t := p.tapAt[channel]
	if t == nil {
		return math.NaN(), math.NaN()
	}
	return t.Window(seconds, dt)
}

// Channel returns the tap's channel.
func (t *Tap) Channel() string { return t.channel }

// Mean returns what a perfect sensor would read in the settled state; NaN if the state has no solution.
func (t *Tap) Mean() float64 {
	if t.p.Err() != nil {
		return math.NaN()
	}
	return t.settled(0)
}

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
// wander, its lag, the day's unexplained error, turbulence, gain and zero. Sensors of the air are exact.
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
		return target
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
		return t.lagged, 0
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

// SetZero sets a fault of a sensor's zero, Pa, beside its ordinary drift.
func (p *Plant) SetZero(channel string, pa float64) {
	if t := p.tapAt[channel]; t != nil {
		t.offset = pa
	}
}

// Plug all but plugs a tap, or frees it: its reading lags and loses its noise.
func (p *Plant) Plug(channel string, plugged bool) {
	if t := p.tapAt[channel]; t != nil {
		t.plugged = plugged
	}
}

// NewDay draws what changes from day to day: the fan's speed, the sensors' zeros and each pressure's unexplained error.
func (p *Plant) NewDay() { p.newDay(false) }

// zeroPull is how much of a zero's distance from its first value a day brings back: zeros wander, but not for ever.
const zeroPull = 0.02

func (p *Plant) newDay(first bool) {
	p.fanDay, p.dirty = p.o.FanDay*p.days.NormFloat64(), true
	for _, t := range p.taps {
		e, z := p.days.NormFloat64(), p.days.NormFloat64()
		if !t.pressure {
			continue
		}
		if first {
			t.day = p.o.DayError * e
			continue
		}
		t.day = p.o.DayAR*t.day + math.Sqrt(1-p.o.DayAR*p.o.DayAR)*p.o.DayError*e
		t.zero = t.zero*(1-zeroPull) + p.o.ZeroDay*z
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
	wanderKnots = 64   // how far taps may lag behind each other: an hour
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

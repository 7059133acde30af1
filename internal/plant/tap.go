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
	shut     int     // side that is shut off from the air: 1 the high one, -1 the low one, 0 neither
	held     float64 // Pa, what stands in it
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
	p.state = solution{mean: make([]float64, n), noise: make([]float64, n), high: make([]float64, n),
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
		case shop.FanPower:
			t.gain = p.o.PowerGain * t.rng.NormFloat64()
		case shop.FanSpeed:
			t.gain = p.o.TurnsGain * t.rng.NormFloat64()
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

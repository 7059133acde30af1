package bound

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// Channel is one reading that the duct model predicts.
type Channel struct {
	Name     string // "COLLECTOR/SENSOR"
	Measures shop.Quantity
	Virtual  bool // nobody reads it; how well it is known can be asked
}

// Response is what each channel does in each set of gates when something changes, as drawn and in ducts that are built
// otherwise. It never changes.
type Response struct {
	Channels []Channel
	Changes  []Change
	Sets     []Set
	Noise    Noise
	Measured map[shop.Quantity]bool // of the air
}

// Set is what the channels do in one set of gates. Derivatives are of the log reading.
type Set struct {
	Closed    bool          // no air enters but by leaks
	Suction   float64       // Pa, the largest anywhere
	Mean      []float64     // by channel
	By        [][]float64   // by channel and change
	Filter    []float64     // by channel
	Density   []float64     // by channel
	Speed     []float64     // by channel
	Common    [][3]float64  // by channel: losses, leakage, the fan's rise
	Hoods     []int         // changes: the drops of the machines that are open
	Built     [][]float64   // by duct and channel: the log reading less that as drawn, over the root of the number of ducts
	Otherwise [][][]float64 // by way of being otherwise, channel and change: By less that as drawn, for one standard deviation
	Scatter   []float64     // by channel: turbulence of one sample
	Zero      []float64     // by channel: the standard deviation of the zero
}

// otherDucts is how many ducts are drawn that are built otherwise, always the same ones.
const (
	otherDucts = 10
	ductsSeed  = 0x626f756e64
)

// usualExponent is that of a leak of which nothing is known: between a hole's ½ and a seam's 0.65.
const usualExponent = 0.57

// leastReading (Pa, and the like) is what a reading is taken for that should be less: its zero hides it anyway.
const leastReading = 0.05

// Respond solves a collector, which must have a drawing, for each setting, with a filter of the given resistance over the
// clean one's, in the given air. Sensors named in virtual are read by nobody.
func Respond(c *shop.Collector, settings []shop.Setting, filter float64, a air.State, n Noise, virtual map[string]bool) (*Response, error) {
	m, err := duct.New(c)
	if err != nil {
		return nil, err
	}
	r := &Response{Noise: n, Measured: map[shop.Quantity]bool{}}
	var at []int
	for i, ch := range m.SensorChannels() {
		s := c.Sensor(strings.TrimPrefix(ch, c.Name+"/"))
		switch s.Measures {
		case shop.AirTemperature, shop.BarometricPressure, shop.RelativeHumidity:
			r.Measured[s.Measures] = true
		default:
			r.Channels = append(r.Channels, Channel{Name: ch, Measures: s.Measures, Virtual: virtual[s.Name]})
			at = append(at, i)
		}
	}
	r.Changes = changes(c, m, r.Channels)
	b := &responder{c: c, m: m, r: r, at: at}
	for _, set := range settings {
		st := duct.State{Setting: set, Air: a, FilterRatio: filter}
		s, err := b.set(st)
		if err != nil {
			return nil, fmt.Errorf("gates open %s: %w", openWords(set), err)
		}
		r.Sets = append(r.Sets, *s)
	}
	return r, nil
}

// responder makes the responses of one collector.
type responder struct {
	c  *shop.Collector
	m  *duct.Model
	r  *Response
	at []int // by channel: its place among the model's sensors
}

// set solves one set of gates as drawn and as otherwise built.
func (b *responder) set(st duct.State) (*Set, error) {
	res, own, err := b.derive(st, usualExponent)
	if err != nil {
		return nil, err
	}
	s := &Set{Closed: true, Suction: largestSuction(res), Mean: own.mean, By: own.by, Filter: own.filter, Density: own.density,
		Speed: own.speed, Common: own.common}
	for _, m := range res.Machines {
		if m.Open {
			s.Closed = false
			s.Hoods = append(s.Hoods, b.r.find(Block, m.Name))
		}
	}
	for k := range otherDucts {
		if err := b.otherwise(s, st, own, k); err != nil {
			return nil, err
		}
	}
	_, steeper, err := b.derive(st, usualExponent+b.r.Noise.Exponent)
	if err != nil {
		return nil, err
	}
	s.Otherwise = append(s.Otherwise, less(steeper.by, own.by, 1))
	b.noise(s, res)
	return s, nil
}

// otherwise adds duct number k.
func (b *responder) otherwise(s *Set, st duct.State, own *derivatives, k int) error {
	rng := rand.New(rand.NewPCG(ductsSeed, uint64(k)))
	st.Choked = map[string]float64{}
	for _, r := range b.c.Network.Runs {
		st.Choked[r.Name] = math.Exp(b.r.Noise.Built * rng.NormFloat64())
	}
	_, other, err := b.derive(st, usualExponent)
	if err != nil {
		return err
	}
	share := 1 / math.Sqrt(otherDucts)
	log := make([]float64, len(own.mean))
	for c := range log {
		log[c] = math.Log(max(other.mean[c]/own.mean[c], 1e-3)) * share // one that turns its sign is lost in its zero
	}
	s.Built = append(s.Built, log)
	s.Otherwise = append(s.Otherwise, less(other.by, own.by, share))
	return nil
}

// derivatives are those of the log readings at one solution.
type derivatives struct {
	mean                   []float64
	by                     [][]float64
	filter, density, speed []float64
	common                 [][3]float64
}

// derive solves a state and differentiates it.
func (b *responder) derive(st duct.State, exponent float64) (*duct.Result, *derivatives, error) {
	res, err := b.m.Solve(st)
	if err != nil {
		return nil, nil, err
	}
	ps := []duct.Param{{Kind: duct.LogFilter}, {Kind: duct.LogDensity}, {Kind: duct.LogFanSpeed}, {Kind: duct.LogLoss},
		{Kind: duct.LogLeakFactor}, {Kind: duct.LogFanFactor}}
	first := len(ps)
	for _, ch := range b.r.Changes {
		if p, ok := ch.param(exponent); ok {
			ps = append(ps, p)
		}
	}
	sens, err := b.m.Sensitivity(res, ps)
	if err != nil {
		return nil, nil, err
	}
	d := &derivatives{}
	for c, i := range b.at {
		p := res.Sensors[i].Value
		if math.Abs(p) < leastReading {
			p = math.Copysign(leastReading, p)
		}
		row := make([]float64, len(ps))
		for k := range row {
			row[k] = sens[i][k] / p
		}
		d.mean = append(d.mean, p)
		d.filter, d.density, d.speed = append(d.filter, row[0]), append(d.density, row[1]), append(d.speed, row[2])
		d.common = append(d.common, [3]float64{row[3], row[4], row[5]})
		d.by = append(d.by, b.withScales(row[first:], c))
	}
	return res, d, nil
}

// withScales adds the scale of each channel to a channel's row.
func (b *responder) withScales(row []float64, channel int) []float64 {
	out := make([]float64, len(b.r.Changes))
	copy(out, row)
	for k, ch := range b.r.Changes {
		if ch.Kind == Scale && ch.Part == b.r.Channels[channel].Name {
			out[k] = 1
		}
	}
	return out
}

// less returns (a-b)·k, element by element.
func less(a, b [][]float64, k float64) [][]float64 {
	out := make([][]float64, len(a))
	for i := range a {
		out[i] = make([]float64, len(a[i]))
		for j := range a[i] {
			out[i][j] = (a[i][j] - b[i][j]) * k
		}
	}
	return out
}

// largestSuction is the largest anywhere in the ducts, in Pa.
func largestSuction(res *duct.Result) float64 {
	most := -res.InletStatic
	for _, r := range res.Runs {
		most = max(most, -r.StaticStart, -r.StaticEnd)
	}
	return most
}

package live

import (
	"math"
	"slices"
	"strings"
	"time"

	"ductward/hardware"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// window is how many samples the mean and the noise are taken over: twenty seconds of them.
const window = 40

// Row is one channel as it is now. What is not known is NaN.
type Row struct {
	Channel string
	Where   string // the bus and address, pin or topic
	Raw     string // in the source's own terms; "" where it does not tell
	Unit    string // SI; "" for a switch
	Value   float64
	Mean    float64 // of the last samples
	Noise   float64 // from sample to sample
	Samples int     // that Mean and Noise are of
	Zero    float64 // mean while the fan stood
	Zeros   int     // samples that Zero is of
	Health  Health
	Fault   *hardware.Fault // nil: it has a value, or none yet

	Sensor *shop.Sensor // nil for a switch
	Fan    bool         // it is a fan's switch
	Port   bool         // it is a selector's position
}

// row is what a Row is made of.
type row struct {
	channel   string
	where     string
	collector *shop.Collector
	sensor    *shop.Sensor // nil for a switch
	source    *shop.Source
	byHand    bool

	raw     string
	value   float64
	nearEnd bool
	fault   *hardware.Fault
	last    [window]float64 // a ring
	seen    int             // samples ever
	zero    float64         // sum
	zeros   int
	pending []float64 // zeros that do not count yet
}

// confirm is how many samples a zero waits until it counts: the fan's switch is debounced and read apart, so that the
// first pressures of a start come before the news of it.
const confirm = 4

// take notes a good sample. atRest says that the fan is known to stand.
func (r *row) take(v float64, q reading.Quality, atRest bool) {
	r.value, r.fault, r.nearEnd = v, nil, q == reading.Uncertain
	if r.sensor == nil {
		return
	}
	r.last[r.seen%window] = v
	r.seen++
	r.takeZero(v, atRest)
}

func (r *row) takeZero(v float64, atRest bool) {
	if !atRest || !isDifference(r.sensor.Measures) {
		r.pending = r.pending[:0]
		return
	}
	r.pending = append(r.pending, v)
	if len(r.pending) > confirm {
		r.zero += r.pending[0]
		r.zeros++
		r.pending = slices.Delete(r.pending, 0, 1)
	}
}

// lose notes that there is no value. What was seen before says nothing about a part that comes back.
func (r *row) lose(f *hardware.Fault) {
	r.value, r.fault, r.seen, r.pending = math.NaN(), f, 0, nil
}

// forget begins to look anew.
func (r *row) forget() { r.seen, r.zero, r.zeros, r.pending = 0, 0, 0, nil }

// spread returns the mean of the last samples, their noise and their number. The noise is sqrt(mean of the squared
// steps / 2), which is the standard deviation of samples that do not hang together (von Neumann, Kent, Bellinson and
// Hart 1941, "The mean square successive difference"); turbulence that outlasts the time between samples is not in it.
func (r *row) spread() (mean, noise float64, n int) {
	n = min(r.seen, window)
	if n == 0 {
		return math.NaN(), math.NaN(), 0
	}
	sum, squares := 0.0, 0.0
	var before float64
	for i := range n {
		v := r.last[(r.seen-n+i)%window]
		sum += v
		if i > 0 {
			squares += (v - before) * (v - before)
		}
		before = v
	}
	if n == 1 {
		return sum, math.NaN(), 1
	}
	return sum / float64(n), math.Sqrt(squares / 2 / float64(n-1)), n
}

// show makes a Row of it.
func (r *row) show(fan Fan) Row {
	out := Row{Channel: r.channel, Where: r.where, Raw: r.raw, Value: r.value, Fault: r.fault, Sensor: r.sensor, Zero: math.NaN(), Zeros: r.zeros}
	out.Fan, out.Port = r.channel == r.collector.FanChannel(), strings.HasPrefix(r.channel, shop.SelectorChannel(""))
	out.Mean, out.Noise, out.Samples = r.spread()
	if r.sensor != nil {
		out.Unit = r.sensor.Measures.Unit()
	}
	if r.zeros > 0 {
		out.Zero = r.zero / float64(r.zeros)
	}
	out.Health = r.judge(&out, fan)
	return out
}

func isDifference(q shop.Quantity) bool {
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
		return true
	}
	return false
}

// Beat is the time between two samples.
const Beat = 500 * time.Millisecond

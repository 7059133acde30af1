package steady

import (
	"math"
	"math/rand/v2"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// twoGates is a collector with two gates, a fan switch, two pressures and a thermometer.
func twoGates() *shop.Collector {
	at := func() *shop.Source { return &shop.Source{Kind: shop.SourceGPIO} }
	return &shop.Collector{
		Name:      "main",
		FanSwitch: at(),
		Gates:     []*shop.Gate{{Name: "saw", Position: at()}, {Name: "planer", Position: at()}},
		Sensors: []*shop.Sensor{
			{Name: "trunk", Measures: shop.StaticPressure},
			{Name: "filter", Measures: shop.FilterDrop},
			{Name: "room", Measures: shop.AirTemperature},
		},
	}
}

// monday is where the civil time of the tests begins.
var monday = time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)

// bench feeds a folder as a recorder would and gathers its runs.
type bench struct {
	t     require.TestingT
	f     *Folder
	rng   *rand.Rand
	boot  uint32
	mono  time.Duration
	seq   uint64
	clock bool // readings carry civil time
	noise float64
	runs  []Run
	all   []reading.Reading
	now   time.Duration // since monday, over all boots
}

func newBench(t require.TestingT, c *shop.Collector) *bench {
	return &bench{t: t, f: NewFolder(c), rng: rand.New(rand.NewPCG(3, 14)), boot: 1, clock: true, noise: 1}
}

// give hands over one reading as it stands.
func (b *bench) give(r reading.Reading) {
	b.seq++
	r.Boot, r.Mono, r.Seq = b.boot, b.mono, b.seq
	if b.clock {
		r.Time = monday.Add(b.now)
	}
	b.all = append(b.all, r)
	b.runs = append(b.runs, b.f.Add(&r)...)
}

// put hands over the position of a switch or a single sample.
func (b *bench) put(channel string, v float64) { b.give(reading.Reading{Channel: channel, Value: v}) }

// pass lets time pass without a reading.
func (b *bench) pass(d time.Duration) { b.mono, b.now = b.mono+d, b.now+d }

// sample samples all three sensors once a second.
func (b *bench) sample(d time.Duration, trunk, filter float64) {
	for range int(d / time.Second) {
		b.pass(time.Second)
		b.put("main/trunk", trunk+b.noise*b.rng.NormFloat64())
		b.put("main/filter", filter+b.noise*b.rng.NormFloat64())
		b.put("main/room", 291)
	}
}

// row hands over the mean of a channel over the span that ends now.
func (b *bench) row(channel string, v, sd float64, span time.Duration, n int) {
	b.give(reading.Reading{Channel: channel, Value: v, SD: sd, Span: span, N: n})
}

// shut tells that the fan runs with both gates shut.
func (b *bench) shut() {
	b.put("main/fan", 1)
	b.put("gate/saw", 0)
	b.put("gate/planer", 0)
}

// one returns the only run.
func (b *bench) one() Run {
	require.Len(b.t, b.runs, 1)
	return b.runs[0]
}

// of returns what a run says of a channel.
func of(t require.TestingT, r Run, channel string) Summary {
	for _, s := range r.Channels {
		if s.Channel == channel {
			return s
		}
	}
	require.Failf(t, "no such channel", "%s in %v", channel, r.Channels)
	return Summary{}
}

// plain replaces what is not equal to itself, so that runs can be compared.
func plain(runs []Run) []Run {
	out := make([]Run, len(runs))
	for i, r := range runs {
		r.Channels = append([]Summary(nil), r.Channels...)
		for j := range r.Channels {
			s := &r.Channels[j]
			for _, v := range []*float64{&s.Mean, &s.SE, &s.SD, &s.Slope} {
				if math.IsNaN(*v) {
					*v = -1e99
				}
			}
		}
		out[i] = r
	}
	return out
}

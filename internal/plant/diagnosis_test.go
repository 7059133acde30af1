package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// sign is what a fault does to a quantity.
type sign int

const (
	down sign = iota - 1
	same
	up
	any
)

// equalWithin is the change that still counts as none: friction falls somewhat with speed, so that even SP/VP of an
// untouched duct moves by a few parts in a thousand.
const equalWithin = 0.012

// assertSign checks a relative change.
func assertSign(t *testing.T, what string, want sign, before, after float64) {
	t.Helper()
	change := after/before - 1
	switch want {
	case down:
		assert.Less(t, change, 0.0, "%s must fall; %g → %g", what, before, after)
	case up:
		assert.Greater(t, change, 0.0, "%s must rise; %g → %g", what, before, after)
	case same:
		assert.InDelta(t, 0, change, equalWithin, "%s must stay; %g → %g", what, before, after)
	}
}

// TestTroublesShowAsTheTradeKnowsThem puts one trouble at a time into the plant and looks at suction at the trunk's
// tap, velocity pressure there, filter drop, SP/VP and shaft power, at fixed speed and with radial blades. The signs are
// those of the diagnosis rows that ratios of pressures rest on (Guffey, Appl. Occup. Environ. Hyg. 14 (1999), from
// memory), as the trade reads them.
func TestTroublesShowAsTheTradeKnowsThem(t *testing.T) {
	cases := []struct {
		trouble                     string
		make                        func(*Plant) error
		sp, vp, dp, upstream, power sign
	}{
		{"filter loads", func(p *Plant) error { p.SetFilterRatio(2); return nil }, down, down, up, same, down},
		{"filter is cleaned", func(p *Plant) error { p.SetFilterRatio(0.6); return nil }, up, up, down, same, up},
		{"leak between tap and filter", func(p *Plant) error { return p.SetLeak("separator", 0.03) }, down, down, up, same, up},
		{"leak between filter and fan", func(p *Plant) error { return p.SetLeak("clean-side", 0.03) }, down, down, down, same, up},
		{"open seam before the tap", func(p *Plant) error { return p.SetLeak("run:trunk 2", 0.03) }, down, up, up, down, up},
		{"gate leaks", func(p *Plant) error { return p.SetLeak("seat:band gate", 0.03) }, down, up, up, down, up},
		{"another gate open", func(p *Plant) error { return p.SetGate("band gate", true) }, down, up, up, down, up},
		{"hose off behind the open gate", func(p *Plant) error { return p.SetLeak("open-side:planer", 0.03) }, down, up, up, down, up},
		{"plugged drop", func(p *Plant) error { return p.SetBlock("planer", 3) }, up, down, down, up, down},
		{"trunk plugged before the tap", func(p *Plant) error { return p.SetRunBlock("trunk 2", 5) }, up, down, down, up, down},
		{"plug behind the tap", func(p *Plant) error { return p.SetRunBlock("trunk 4", 5) }, down, down, down, same, down},
		{"restriction at the fan", func(p *Plant) error { p.SetRestriction(300); return nil }, down, down, down, same, down},
		{"fan turns backwards", func(p *Plant) error { p.SetReversed(true); return nil }, down, down, down, any, any},
		{"slow fan", func(p *Plant) error { p.SetFanSpeed(0.95); return nil }, down, down, down, same, down},
	}
	for _, c := range cases {
		t.Run(c.trouble, func(t *testing.T) {
			shopOf := workshop()
			for _, s := range shopOf.Sensors {
				if s.Run == "trunk 4" {
					s.Run = "trunk 3" // so that there is something behind the tap
				}
			}
			p := newPlant(t, shopOf, DefaultOptions(2))
			openGates(t, p, "planer gate")
			read := func() [5]float64 {
				require.NoError(t, p.Err())
				sp, vp := -p.Mean("main/trunk"), p.Mean("main/velocity")
				return [5]float64{sp, vp, p.Mean("main/filter"), sp / vp, p.Mean("main/power")}
			}
			before := read()
			require.NoError(t, c.make(p))
			after := read()
			for i, want := range []sign{c.sp, c.vp, c.dp, c.upstream, c.power} {
				assertSign(t, []string{"SP", "VP", "filter drop", "SP/VP", "power"}[i], want, before[i], after[i])
			}
		})
	}
}

// TestAirMovesReadings: thinner air lowers everything but the viscous filter's drop; warm air raises that.
func TestAirMovesReadings(t *testing.T) {
	cool := Weather{Temperature: 293.15, Pressure: 101325, Humidity: 0.5}
	thin, warm := cool, cool
	thin.Pressure *= 0.92
	warm.Temperature = 318.15
	warm.Humidity = 0.13 // the same water
	cases := []struct {
		name              string
		air               Weather
		sp, vp, dp, power float64 // relative change
	}{
		{"8 % thinner", thin, -0.085, -0.085, -0.005, -0.08},
		{"20 to 45 °C", warm, -0.09, -0.09, 0.05, -0.08},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p := newPlant(t, threeDrops(), Exact())
			openGates(t, p, "planer gate")
			channels := []string{"main/trunk", "main/velocity", "main/filter", "main/power"}
			before := make([]float64, 4)
			p.SetAir(cool)
			for i, ch := range channels {
				before[i] = p.Mean(ch)
			}
			p.SetAir(c.air)
			for i, want := range []float64{c.sp, c.vp, c.dp, c.power} {
				assert.InDelta(t, want, p.Mean(channels[i])/before[i]-1, 0.012, channels[i])
			}
		})
	}
}

// TestSlowFanFollowsTheFanLaws: but for the viscous filter and friction's slope, Q ~ s, p ~ s², P ~ s³.
func TestSlowFanFollowsTheFanLaws(t *testing.T) {
	p := newPlant(t, threeDrops(), Exact())
	openGates(t, p, "planer gate")
	before, err := p.Truth()
	require.NoError(t, err)
	p.SetFanSpeed(0.8)
	after, err := p.Truth()
	require.NoError(t, err)
	assert.InEpsilon(t, 0.8, after.FanFlow/before.FanFlow, 0.02)
	assert.InEpsilon(t, 0.64, after.FanRise/before.FanRise, 0.02)
	assert.InEpsilon(t, 0.512, after.FanPower/before.FanPower, 0.03)
}

func TestLeaksLiveWhereTheyAre(t *testing.T) {
	p := newPlant(t, workshop(), Exact())
	effect := func(part string, gates ...string) float64 {
		openGates(t, p, gates...)
		before, err := p.Truth()
		require.NoError(t, err)
		require.NoError(t, p.SetLeak(part, 0.02))
		after, err := p.Truth()
		require.NoError(t, err)
		require.NoError(t, p.SetLeak(part, 0))
		return after.Leakage - before.Leakage
	}
	assert.Greater(t, effect("seat:saw gate", "planer gate"), 0.01, "a worn seat leaks while its gate is shut")
	assert.InDelta(t, 0, effect("seat:saw gate", "saw gate", "planer gate"), 1e-6, "and not while it is open")
	assert.InDelta(t, 0, effect("open-side:saw", "planer gate"), 1e-4, "a leak on the machine's side is shut off by its gate")
	assert.Greater(t, effect("open-side:saw", "saw gate"), 0.005)
	assert.Greater(t, effect("drop:saw gate", "planer gate"), 0.01, "one on the trunk's side is not")
	assert.Greater(t, effect("run:trunk 3"), 0.02, "and with all gates shut suction is above 1500 Pa")
}

// TestAFanThatTurnsBackwards still moves 40 to 60 % of the air (common practice, no source).
func TestAFanThatTurnsBackwards(t *testing.T) {
	p := newPlant(t, workshop(), Exact())
	for _, gate := range []string{"planer gate", "band gate"} {
		openGates(t, p, gate)
		before, err := p.Truth()
		require.NoError(t, err)
		p.SetReversed(true)
		after, err := p.Truth()
		require.NoError(t, err)
		assert.InDelta(t, 0.5, after.FanFlow/before.FanFlow, 0.1, gate)
		p.SetReversed(false)
	}
}

// TestTheFansMeters scatter as they are told to, about a gain of their own; exact ones read the truth.
func TestTheFansMeters(t *testing.T) {
	exact, rough := newPlant(t, workshop(), Exact()), newPlant(t, workshop(), Options{Seed: 3, PowerNoise: 0.02, PowerGain: 0.05, WanderTime: 900, NoiseTime: [2]float64{3, 6}})
	openGates(t, exact, "planer gate")
	openGates(t, rough, "planer gate")
	want := exact.Mean("main/power")
	mean, sd := exact.Window("main/power", 60, 1)
	assert.InEpsilon(t, want, mean, 1e-12)
	assert.Zero(t, sd)
	sum, square := 0.0, 0.0
	const n = 4000
	for range n {
		x := rough.Sample("main/power", 1)/want - 1
		sum, square = sum+x, square+x*x
	}
	scatter := math.Sqrt(square/n - sum*sum/n/n)
	assert.InEpsilon(t, 0.02, scatter, 0.12, "of a sample, of which 5 % is the gain's")
	mean, sd = rough.Window("main/power", 400, 1)
	assert.InDelta(t, sum/n, mean/want-1, 4*0.02/20, "the same gain")
	assert.InEpsilon(t, scatter*want, sd, 0.05, "W")
}

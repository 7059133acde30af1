package duct_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// annexe is the shop of testdata that has every kind of fitting, hose, gate and junction at least once.
func annexe(t *testing.T) *shop.Collector {
	t.Helper()
	s, problems, err := shop.Load("../../testdata/shops/fittings.yaml")
	require.NoError(t, err)
	require.Empty(t, problems)
	c := s.Collector("annexe")
	c.Sensors = append(c.Sensors, &shop.Sensor{Name: "speed", Measures: shop.FanSpeed})
	return c
}

// With every kind of fitting in one shop every sensitivity is still the derivative of the solve, for every set of gates.
func TestSensitivitiesOfEveryFitting(t *testing.T) {
	c := annexe(t)
	c.Fan.Between = shop.Smooth // straight lines have corners, where there is no derivative
	m := model(t, c)
	for bits := range uint64(8) {
		st := duct.State{Setting: setting(c, bits), FilterRatio: 1.7, PastFilter: 0.01, Housing: 5, FanSpeed: 1.03, Air: air.State{Density: 1.1, Viscosity: 1.85e-5, Temperature: 290}}
		r := solve(t, m, st)
		ps := allParams(m, []string{"planer", "bench saw guard"}, nil)
		got, err := m.Sensitivity(r, ps)
		require.NoError(t, err)
		for k, p := range ps {
			step, least := 1e-4, 1e-3
			if p.Kind == duct.LeakAt || p.Kind == duct.Past {
				step, least = 1e-6, 0.1
			}
			up, down := solve(t, m, shifted(st, p, step)), solve(t, m, shifted(st, p, -step))
			for i, s := range r.Sensors {
				want := (up.Sensors[i].Value - down.Sensors[i].Value) / (2 * step)
				tolerance := 5e-4*math.Abs(want) + 1e-8*math.Abs(s.Value)/step + least
				assert.InDelta(t, want, got[i][k], tolerance, "%s by %+v with gates %b", s.Channel, p, bits)
			}
		}
	}
}

// The fan runs at the speed that the shop says, 47 of 50 Hz, and a state's speed is over that; the result tells it over
// that of the curve, and a speed sensor reads revolutions.
func TestTheSpeedAtWhichTheFanRuns(t *testing.T) {
	c := annexe(t)
	m := model(t, c)
	r := solve(t, m, duct.State{Setting: setting(c, 3)})
	assert.InDelta(t, 0.94, r.SpeedRatio, 1e-12)
	assert.InDelta(t, 0.94*2900/60, read(r, "annexe/speed"), 1e-9)
	slow := solve(t, m, duct.State{Setting: setting(c, 3), FanSpeed: 0.9})
	assert.InDelta(t, 0.94*0.9, slow.SpeedRatio, 1e-12)

	whole := *c
	whole.Fan.Running = 0
	full := solve(t, model(t, &whole), duct.State{Setting: setting(c, 3), FanSpeed: 0.94})
	assert.Equal(t, r.FanFlow, full.FanFlow, "one speed, said in two ways")
	assert.Equal(t, r.SpeedRatio, full.SpeedRatio)
}

func read(r *duct.Result, channel string) float64 {
	for _, s := range r.Sensors {
		if s.Channel == channel {
			return s.Value
		}
	}
	return math.NaN()
}

// A power meter sits before the motor: it reads what the shaft takes over the efficiency of motor and drive.
func TestMeteredPower(t *testing.T) {
	c := annexe(t)
	m := model(t, c)
	r := solve(t, m, duct.State{Setting: setting(c, 3)})
	assert.InEpsilon(t, r.FanPower/0.88, read(r, "annexe/motor"), 1e-12)
	assert.InEpsilon(t, r.FanPower/0.88, m.MotorPower(r.FanPower), 1e-12)
	c.Fan.Motor = 0
	m = model(t, c)
	r = solve(t, m, duct.State{Setting: setting(c, 3)})
	assert.Equal(t, r.FanPower, read(r, "annexe/motor"), "nothing is known of the motor")
	assert.True(t, math.IsNaN(m.MotorPower(r.FanPower)))
}

// An elbow right at the fan takes air from every machine, the nearer it stands the more; a hole in a trunk takes from
// what comes through it; what passes a worn seat goes with the exponent that it is stated with.
func TestInletHoleAndSeat(t *testing.T) {
	air := func(alter func(c *shop.Collector)) *duct.Result {
		c := annexe(t)
		alter(c)
		return solve(t, model(t, c), duct.State{Setting: setting(c, 3)})
	}
	straight := air(func(c *shop.Collector) { c.Fan.Inlet = nil })
	some, right := air(func(*shop.Collector) {}), air(func(c *shop.Collector) { c.Fan.Inlet.Straight = 0 })
	tight := air(func(c *shop.Collector) { c.Run("planer line").Hole = 0 })
	for i := range some.Machines[:3] {
		assert.Less(t, some.Machines[i].Flow, straight.Machines[i].Flow)
		assert.Less(t, right.Machines[i].Flow, some.Machines[i].Flow)
	}
	assert.Less(t, some.Machines[2].Flow, tight.Machines[2].Flow, "the planer's line has the hole")
	assert.Less(t, tight.FanFlow, some.FanFlow)

	c := annexe(t)
	seat := func(n float64) float64 {
		c.Gate("saw gate").SeatN = n
		r := solve(t, model(t, c), duct.State{Setting: setting(c, 2)})
		for _, l := range r.Leaks {
			if l.Part == "seat:saw gate" {
				return l.Flow
			}
		}
		return math.NaN()
	}
	// The law is stated at 1500 Pa, and with the planer alone the suction behind the saw gate is above that.
	assert.Greater(t, seat(0.65), seat(0.5))
	assert.Equal(t, seat(0.65), seat(0))
}

// Any mixture of junctions, by either law, converges for any set of gates and balances at every node.
func TestEveryJunctionConverges(t *testing.T) {
	for seed := range uint64(150) {
		d := newDice(seed)
		c := randomShop(d, d.int(2, 9), false)
		for _, j := range c.Network.Junctions {
			if j.Kind == shop.Lossless {
				continue
			}
			j.Kind = shop.JunctionKind(d.int(int(shop.Wye), int(shop.Splitter)))
			j.Swept, j.Handbook = d.float(0, 0.3), d.int(0, 1) == 1
		}
		c.Fan.Inlet = &shop.FanInlet{Diameter: 0.2, Coefficient: d.float(0, 3)}
		c.Fan.Running = d.float(0.5, 1.2)
		if d.int(0, 1) == 1 {
			(&drawing{Collector: c, chooser: d}).ring("ring")
		}
		m := model(t, c)
		for range 4 {
			r := solve(t, m, duct.State{Setting: setting(c, d.Uint64())})
			assert.Less(t, newAudit(c, r).balance(), 1e-9, "seed %d", seed)
		}
	}
}

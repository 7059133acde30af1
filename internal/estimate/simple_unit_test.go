package estimate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// lumped returns an estimator of the demo's collector with a fan, a filter and the sensors at the collector alone.
func lumped(t *testing.T) *Estimator {
	t.Helper()
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	c := *s.Collectors[0]
	c.Sensors = atCollector(&c)
	c.Network, c.Gates, c.Selectors, c.Machines = nil, nil, nil, nil
	e, err := New(s, &c)
	require.NoError(t, err)
	require.NotNil(t, e.lump)
	return e
}

// pulled returns a run of the lumped model itself: what its sensors read with so much loss in the ducts, by a fan of such a speed.
func pulled(t *testing.T, e *Estimator, loss, filter, fan float64) *steady.Run {
	t.Helper()
	l := e.lump
	res, err := l.model.Solve(duct.State{Air: e.standardAir(), FilterRatio: math.Exp(filter), LossFactor: loss, FanSpeed: math.Exp(fan)})
	require.NoError(t, err)
	return &steady.Run{Collector: "main", Kind: steady.Running, FanHours: 0.25, Channels: []steady.Summary{
		{Channel: l.dropCh, Mean: res.Sensors[l.drop].Value, SE: 0.1},
		{Channel: l.statCh, Mean: res.Sensors[l.static].Value, SE: 0.3}}}
}

// TestTheFansSpeedIsLearnt from runs with little air and with much, though the one is far from linear in the other, and with it the
// filter's resistance; and a gate-shut stretch asks for the same speed.
func TestTheFansSpeedIsLearnt(t *testing.T) {
	const fan = -0.03
	e := lumped(t)
	var days []*dayData
	for day := range 5 {
		d := &dayData{}
		filter := 0.1 + 0.05*float64(day)
		for _, loss := range []float64{0.5, 1, 2, 4} {
			o, ok := e.lump.take(e, d, pulled(t, e, loss, filter, fan))
			require.True(t, ok)
			d.rough = append(d.rough, o)
		}
		require.True(t, e.lump.settle(d))
		days = append(days, d)
	}
	apart := days[0].rough[0].filter.V - days[0].rough[3].filter.V
	assert.Greater(t, math.Abs(apart), 0.1, "by the curve as it is they ask for different resistances")
	e.lump.learnFan(e, days)
	assert.InDelta(t, fan, e.lump.fan.V, 0.002)
	for day, d := range days {
		assert.InDelta(t, 0.1+0.05*float64(day), d.filter[0].V, 0.01, "day %d", day)
	}
	shut := pulled(t, e, 3e4, 0.1, fan)
	o := roughRun{run: shut, drop: shut.Channels[0].Mean, suction: -shut.Channels[1].Mean, air: e.standardAir()}
	e.lump.fan = Value{}
	assert.InDelta(t, fan, e.lump.fanAtRest(&o, 0.1), 0.0005)
}

// TestWhichStretchesHadEveryGateShut is told by a gap between the flows, and without one by what would be next to no air.
func TestWhichStretchesHadEveryGateShut(t *testing.T) {
	e := lumped(t)
	l := e.lump
	of := func(shares ...float64) float64 { // of the filter's clean flow
		d := &dayData{filter: []Value{{0, 0.01}}}
		for _, s := range shares {
			d.rough = append(d.rough, roughRun{drop: s * l.cleanFlow * l.viscous, filter: Value{V: math.NaN()}})
		}
		l.learnShut([]*dayData{d})
		return l.shut / l.cleanFlow
	}
	assert.InDelta(t, shutEdge*0.4, of(0.015, 0.9, 0.4, 0.02, 0.6), 1e-9, "above what leaks, below the least machine")
	assert.InDelta(t, 3*mostShut, of(0.015, 0.9, 0.8), 1e-9, "no more than three times what may leak at most")
	assert.InDelta(t, mostShut, of(0.9, 0.4, 0.6), 1e-9, "none had them all shut")
	assert.InDelta(t, 0.12/shutGap, of(0.12, 0.13, 0.5), 1e-9, "a small machine alone is no gate-shut stretch")
	assert.Zero(t, of())

	l.shut = 0.2 * l.cleanFlow
	shut := func(drop, suction float64) bool {
		d := &dayData{rough: []roughRun{{drop: 500, suction: 1500, filter: Value{0, 0.01}, air: e.standardAir()},
			{drop: drop, suction: suction, filter: Value{V: math.NaN()}, air: e.standardAir()}}}
		require.True(t, l.settle(d))
		return d.rough[1].shut
	}
	assert.True(t, shut(20, l.most-20))
	assert.False(t, shut(0, 0.6*l.most), "a machine draws, and the tube across the filter is off")
}

// TestAFlowByTheVelocity is that of Bernoulli, √(2·p/ρ) times the area, and tells the filter with no fan's curve.
func TestAFlowByTheVelocity(t *testing.T) {
	e := lumped(t)
	l := e.lump
	require.Equal(t, "main/trunk velocity", l.velocityCh)
	a, err := air.At(294, 101325, 0.5)
	require.NoError(t, err)
	o := roughRun{run: &steady.Run{Channels: []steady.Summary{{Channel: l.velocityCh, Mean: 150, SE: 0.2}}}, drop: 500, dropSE: 0.5, air: a}
	require.True(t, l.takeVelocity(e, &o))
	q := l.area * math.Sqrt(2*150/a.Density)
	assert.InEpsilon(t, q, o.flow.V, 1e-12)
	assert.InDelta(t, math.Log(500/(l.viscous*a.Viscosity/e.standardAir().Viscosity*q)), o.filter.V, 1e-12)
	o.run.Channels[0].Mean = 2
	o.filter = Value{V: math.NaN()}
	require.True(t, l.takeVelocity(e, &o))
	assert.True(t, math.IsNaN(o.filter.V), "too little air to read")
	o.run.Channels = nil
	assert.False(t, l.takeVelocity(e, &o), "not read: the fan's curve serves")
}

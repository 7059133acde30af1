package bound

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/shop"
)

// threeDrops is a shop of three machines on one trunk, with the given sensors alone.
func threeDrops(t testing.TB, sensors ...*shop.Sensor) *shop.Collector {
	t.Helper()
	s, problems, err := shop.Load("../../testdata/shops/trunk-three-drops.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	c := s.Collectors[0]
	c.Sensors = sensors
	c.Fan.Speed = 48 // the file has none
	return c
}

// usualSensors are those of the filter's drop and of the trunk, at the end of the last run.
func usualSensors(c *shop.Collector) []*shop.Sensor {
	last := c.Network.Runs[len(c.Network.Runs)-1].Name
	return []*shop.Sensor{
		{Name: "drop", Measures: shop.FilterDrop},
		{Name: "static", Measures: shop.StaticPressure, Run: last},
		{Name: "velocity", Measures: shop.VelocityPressure, Run: last},
		{Name: "turns", Measures: shop.FanSpeed},
		{Name: "air", Measures: shop.AirTemperature},
	}
}

func respond(t testing.TB, c *shop.Collector, n Noise) *Response {
	t.Helper()
	sets, alone := Settings(c)
	require.Equal(t, len(c.Machines), alone)
	r, err := Respond(c, sets, 1.5, air.Reference(), n, nil)
	require.NoError(t, err)
	return r
}

// space is what a shop's readings of a week tell after two weeks of baseline.
func space(t testing.TB, r *Response, c *shop.Collector, checks Checks) (*Record, *Space) {
	t.Helper()
	h := UsualHabits()
	h.Checks = checks
	week := h.Week(r, len(c.Machines))
	rec, err := NewRecord(r, slices.Concat(week, week, week))
	require.NoError(t, err)
	s, err := rec.Space(Step(10, 5))
	require.NoError(t, err)
	return rec, s
}

// TestResponsesAreTheModels: the log readings of a solve with a little more filter and with a little leak lie where the
// response has them.
func TestResponsesAreTheModels(t *testing.T) {
	c := threeDrops(t)
	c.Sensors = usualSensors(c)
	r := respond(t, c, UsualNoise())
	require.Equal(t, []string{"main/drop", "main/static", "main/velocity", "main/turns"},
		[]string{r.Channels[0].Name, r.Channels[1].Name, r.Channels[2].Name, r.Channels[3].Name}, "the air is no pressure")
	assert.True(t, r.Measured[shop.AirTemperature])
	assert.True(t, r.Sets[0].Closed)
	assert.Empty(t, r.Sets[0].Hoods)
	assert.Len(t, r.Sets[1].Hoods, 1)
	assert.Len(t, r.Sets, 1+3+2)
	assert.Negative(t, r.Find(Scale, "main/drop"), "the filter hides its sensor's scale")
	k := r.Find(Scale, "main/static")
	assert.Equal(t, []float64{0, 1, 0, 0}, []float64{r.Sets[2].By[0][k], r.Sets[2].By[1][k], r.Sets[2].By[2][k], r.Sets[2].By[3][k]})
	sets, _ := Settings(c)
	more, err := Respond(c, sets, 1.5*1.001, air.Reference(), UsualNoise(), nil)
	require.NoError(t, err)
	for i := range r.Sets {
		for ch := range 3 {
			got := math.Log(more.Sets[i].Mean[ch]/r.Sets[i].Mean[ch]) / math.Log(1.001)
			assert.InDelta(t, r.Sets[i].Filter[ch], got, 1e-3, "set %d, channel %d", i, ch)
		}
	}
	for i := range r.Sets {
		assert.InDelta(t, 1, r.Sets[i].Speed[3], 1e-9, "turns go with the speed")
		assert.Len(t, r.Sets[i].Otherwise, otherDucts+1)
	}
}

// TestWhatATradesmanKnows: a check with every gate shut is worth more than a week of running, a far tap tells the place,
// and a blocked drop is never told from a torn hose.
func TestWhatATradesmanKnows(t *testing.T) {
	c := threeDrops(t)
	far := &shop.Sensor{Name: "far", Measures: shop.StaticPressure, Run: c.Network.Runs[0].Name}
	c.Sensors = append(usualSensors(c), far)
	all := respond(t, c, UsualNoise())
	usual := all.Only(func(ch Channel) bool { return ch.Name != "main/far" }, all.Measured)
	trunk := all.Of(func(ch Change) bool { return ch.Kind == Leak && ch.Branch == Trunk })
	require.NotEmpty(t, trunk)
	rec, running := space(t, usual, c, NoChecks)
	_, weekly := space(t, usual, c, WeeklyCheck)
	_, daily := space(t, usual, c, DailyCheck)
	_, farther := space(t, all, c, NoChecks)
	leak := trunk[0]
	size := 20.0 / 3600
	assert.Less(t, weekly.SD(leak, size), running.SD(leak, size))
	assert.Less(t, daily.SD(leak, size), weekly.SD(leak, size))
	assert.LessOrEqual(t, farther.SD(leak, size), running.SD(leak, size)*(1+1e-9))
	prior := UsualPrior()
	near, with := running.Places(trunk, 100.0/3600, prior, 200, 1), farther.Places(trunk, 100.0/3600, prior, 200, 1)
	assert.Greater(t, with.First, near.First)
	threshold := FamilyOf(usual, 1).Threshold()
	assert.Less(t, daily.Smallest(trunk, 0.9, threshold, 1), running.Smallest(trunk, 0.9, threshold, 1))
	sd, err := rec.FilterSD(10)
	require.NoError(t, err)
	assert.Greater(t, sd, 0.001)
	assert.Less(t, sd, 0.01, "a filter's resistance is known to better than a hundredth")
}

// TestTheAirAtAMachine: a virtual channel tells how well its air is known: better with a velocity sensor in the trunk than
// without, and never read.
func TestTheAirAtAMachine(t *testing.T) {
	c := threeDrops(t)
	run := c.PathOf(c.Machines[0].Name)[0].Name
	c.Sensors = append(usualSensors(c), &shop.Sensor{Name: "asked", Measures: shop.VelocityPressure, Run: run})
	sets, _ := Settings(c)
	r, err := Respond(c, sets, 1.5, air.Reference(), UsualNoise(), map[string]bool{"asked": true})
	require.NoError(t, err)
	sd := func(r *Response) float64 {
		rec, _ := space(t, r, c, NoChecks)
		x, err := rec.AirSD("main/asked", 1)
		require.NoError(t, err)
		return x
	}
	with := sd(r)
	without := sd(r.Only(func(ch Channel) bool { return ch.Name != "main/velocity" }, r.Measured))
	assert.Less(t, with, without)
	assert.Greater(t, with, 0.01, "no better than the gain of a sensor lets it")
	assert.Less(t, without, 0.10)
	rec, _ := space(t, r, c, NoChecks)
	_, err = rec.AirSD("main/nobody", 1)
	assert.ErrorContains(t, err, "no channel")
}

// TestTheWeek: a week has its checks and its sets, and a walk begins with each machine alone.
func TestTheWeek(t *testing.T) {
	c := threeDrops(t)
	c.Sensors = usualSensors(c)
	r := respond(t, c, UsualNoise())
	h := UsualHabits()
	closed := func(days []Day) (runs int) {
		for _, d := range days {
			for _, run := range d {
				if r.Sets[run.Set].Closed {
					runs++
				}
			}
		}
		return runs
	}
	for checks, want := range map[Checks]int{NoChecks: 0, WeeklyCheck: 1, DailyCheck: 5} {
		h.Checks = checks
		week := h.Week(r, 3)
		assert.Len(t, week, 5)
		assert.Equal(t, want, closed(week))
	}
	h.Checks = NoChecks
	week := h.Week(r, 3)
	assert.Len(t, week[0], h.Runs)
	walk := h.Walk(r, 3, week[0])
	assert.Len(t, walk, 3+h.Runs)
	for i := range walk[1:] {
		assert.Greater(t, walk[i+1].At, walk[i].At)
	}
}

func BenchmarkPlaces(b *testing.B) {
	c := threeDrops(b)
	c.Sensors = usualSensors(c)
	_, s := space(b, respond(b, c, UsualNoise()), c, NoChecks)
	for b.Loop() {
		s.Places([]int{0, 1}, 100.0/3600, UsualPrior(), 100, 1)
	}
}

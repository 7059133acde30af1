package trial

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/bound"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// studyOf is a study of one plant of the trials' shop.
func studyOf(t testing.TB, set string, w World) *study {
	t.Helper()
	sh, err := Shop(set, true)
	require.NoError(t, err)
	r := &Record{Shop: sh, Collector: sh.Collectors[0]}
	const seed = 2 // worked in on each day of the fault's week
	r.Plant, r.Work = Setting{World: w, Hood: ordinaryHoods}.options(seed)
	r.Work.Site = sh.Site
	s, err := newStudy(r, boundNoise(r.Plant), faultDay, 28)
	require.NoError(t, err)
	require.True(t, workedThrough(s.work))
	return s
}

// leakScenario is a scenario of 28 days with a leak on the fault's day.
var leakScenario = &scenario{days: 28, fault: leakOf(15, anywhere)}

// TestBoundsOfAPlant: rates are rates; a further tap and a morning's check tell no less, and a larger leak is seen no less
// often.
func TestBoundsOfAPlant(t *testing.T) {
	at := func(s *study, b bounding) float64 {
		t.Helper()
		x, err := b(s, leakScenario)
		require.NoError(t, err)
		require.False(t, math.IsNaN(x) || math.IsInf(x, 0) || x < 0)
		return x
	}
	few, more := studyOf(t, "A", Daily), studyOf(t, "C", Daily)
	never := studyOf(t, "A", None)
	assert.Less(t, at(more, sizeBound(20, anywhere)), at(few, sizeBound(20, anywhere)))
	assert.Less(t, at(few, sizeBound(20, anywhere)), at(never, sizeBound(20, anywhere)))
	assert.Less(t, at(never, seenBound(8, 1)), at(few, seenBound(8, 1)))
	assert.LessOrEqual(t, at(never, seenBound(15, 1)), at(never, seenBound(60, 1)))
	for _, b := range []bounding{seenBound(15, 1), seenBound(8, 7), onsetDayBound(40), blockedBound(1.35, soonUses), slipBound(0.015, 1)} {
		assert.LessOrEqual(t, at(few, b), 1.0)
	}
	assert.Less(t, at(few, placeBound(100, inTheTrunk, sure)), at(more, placeBound(100, inTheTrunk, sure)))
	assert.Less(t, at(few, slipBound(0.002, 1)), at(few, slipBound(0.015, 1)))
	assert.Less(t, at(more, filterBound), 1.0, "hundredths")
	assert.Less(t, at(few, onsetBound(15)), at(few, onsetBound(5)))
	assert.Greater(t, at(never, growthBound(15, 7)), at(never, growthBound(3, 7)))
}

// TestRunsOfADay: runs begin and end with what moves, the transient does not count, what is too short is left out, and runs
// that follow each other with a machine open are one use of it.
func TestRunsOfADay(t *testing.T) {
	sh, err := Shop("A", true)
	require.NoError(t, err)
	c := sh.Collectors[0]
	gate := func(minute float64, name string, open bool) plant.Event {
		return plant.Event{At: time.Duration(minute * float64(time.Minute)), Kind: plant.GateEvent, Name: name, On: open}
	}
	tr := &tracer{settings: map[string]int{}}
	runs := tr.day([]plant.Event{
		{At: 0, Kind: plant.FanEvent, On: true},
		{At: time.Minute, Kind: plant.UseEvent, Name: "lathe"}, // moves nothing
		gate(2, "lathe gate", true),
		gate(6, "jointer gate", true),
		gate(6.2, "shaper gate", true), // 12 s after the one before
		gate(10, "shaper gate", false),
		gate(10.1, "jointer gate", false),
		gate(12, "lathe gate", false),
		{At: 13 * time.Minute, Kind: plant.FanEvent},
	})
	var minutes []float64
	for _, r := range runs {
		minutes = append(minutes, r.from.Minutes(), r.to.Minutes())
	}
	assert.InDeltaSlice(t, []float64{0, 2, 2, 6, 6.2, 10, 10.1, 12, 12, 13}, minutes, 1e-9)
	assert.Equal(t, runs[1].set, runs[3].set, "the lathe alone, twice")
	assert.Equal(t, runs[0].set, runs[4].set, "nothing, twice")
	assert.Len(t, tr.sets, 3)
	assert.Empty(t, tr.day([]plant.Event{gate(5, "lathe gate", true), gate(50, "lathe gate", false)}), "the fan is off")

	r, err := bound.Respond(c, tr.sets, 1, referenceAir(t, sh), bound.UsualNoise(), nil)
	require.NoError(t, err)
	s := &study{c: c, r: r}
	day := s.day(runs)
	require.Len(t, day, 5)
	assert.InDelta(t, 110, day[0].Seconds, 1e-9)
	assert.Empty(t, day[0].Uses)
	assert.Equal(t, []int{0}, day[1].Uses, "the lathe")
	assert.Len(t, day[2].Uses, 3)
	for k, h := range r.Sets[day[2].Set].Hoods {
		assert.Equal(t, r.Changes[h].Part == "lathe", day[2].Uses[k] == 0, "the others have uses of their own")
	}
	assert.Equal(t, []int{0}, day[3].Uses, "still the same use of the lathe")
}

// TestARunOfOneMachine: a leak in a run that one machine alone breathes through is that of its drop.
func TestARunOfOneMachine(t *testing.T) {
	sh, err := Shop("A", true)
	require.NoError(t, err)
	c := sh.Collectors[0]
	r, err := bound.Respond(c, []shop.Setting{{}}, 1, referenceAir(t, sh), bound.UsualNoise(), nil)
	require.NoError(t, err)
	s := &study{c: c, r: r}
	assert.Equal(t, r.Find(bound.Leak, "drop:panel saw gate"), s.leakAt("run:trunk 1"))
	assert.Equal(t, r.Find(bound.Leak, "run:trunk 2"), s.leakAt("run:trunk 2"))
	assert.Negative(t, s.leakAt("run:nowhere"))
	assert.Len(t, s.leaksAt(anywhere), 16)
}

// referenceAir is the air of a shop.
func referenceAir(t testing.TB, s *shop.Shop) air.State {
	t.Helper()
	a, err := air.At(s.Site.Temperature, air.PressureAt(s.Site.Altitude), s.Site.Humidity)
	require.NoError(t, err)
	return a
}

func BenchmarkBound(b *testing.B) {
	s := demoShop(b)
	leak := DrawLeak(s.Collectors[0], 1, leakFrom)
	for b.Loop() {
		if _, err := Bound(NewRecord(s, 1), leakDays, leak); err != nil {
			b.Fatal(err)
		}
	}
}

//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// rough makes the hoods of a scene's plant stand otherwise by a tenth each time a machine is used.
func rough(o *plant.Options) { o.HoodJitter = 0.10 }

// TestRoughHoodsAreNoFindings: a shop whose hoods stand otherwise by a tenth from use to use is left in peace for
// fifty days, twice over; one false alarm a year is promised.
func TestRoughHoodsAreNoFindings(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range 2 {
		scenes = append(scenes, scene{seed: 901 + uint64(i), days: 50, work: everyDay, built: rough})
	}
	told := 0
	for _, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.alarms()))
		told += len(l.of(finding.DropBlocked, finding.OpenSideChanged, finding.TrunkBlocked, finding.FanSlow,
			finding.SensorDisagrees, finding.GateLeftOpen)) + len(l.leaks())
	}
	assert.LessOrEqual(t, told, 1, "90 days against a baseline: 0.4 are promised, and two or more come once in twenty times")
}

// TestHoodsThatStandForADayAreNoFindings: where each hood stands all day as it was left in the morning, a day is one witness of
// a drop, however often the machine is used. Not even a line is written.
func TestHoodsThatStandForADayAreNoFindings(t *testing.T) {
	t.Parallel()
	l := live(t, scene{seed: 961, days: 40, work: everyDay,
		built: func(o *plant.Options) { o.HoodDaily, o.HoodJitter = true, 0.06 },
		shop:  func() (*shop.Shop, error) { return trial.Shop("A", true) }})
	found := append(l.of(finding.DropBlocked, finding.OpenSideChanged, finding.TrunkBlocked, finding.FanSlow), l.leaks()...)
	assert.Empty(t, found, "35 days against a baseline, one false alarm a year promised: %s", say(found))
}

// TestHoodsThatAreStirredAreNoFindings: where a hood stands otherwise with every gate that moves, though its own stays open, the runs
// of one use are no closer to each other than those of two, and nothing is found.
func TestHoodsThatAreStirredAreNoFindings(t *testing.T) {
	t.Parallel()
	for _, set := range []string{"A", "C"} {
		l := live(t, scene{seed: 971, days: 40, work: everyDay, built: func(o *plant.Options) { o.HoodStir = 0.06 },
			shop: func() (*shop.Shop, error) { return trial.Shop(set, true) }})
		found := append(l.of(finding.DropBlocked, finding.OpenSideChanged, finding.TrunkBlocked, finding.FanSlow), l.leaks()...)
		assert.Empty(t, found, "%s: 35 days against a baseline, one false alarm a year promised: %s", set, say(found))
	}
}

// TestARoughShopWithoutChecksIsAsSureAsItSays: what is stated of the leakage of healthy plants holds where hoods differ by a tenth
// from use to use and the fan never runs with every gate shut. All of it hangs on how well the baseline knows its gate sets: where
// each of the baseline's runs has a hood of its own, these plants' intervals of 90 % hold 0.83 of the days.
func TestARoughShopWithoutChecksIsAsSureAsItSays(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(6) {
		scenes = append(scenes, scene{seed: 7001 + i, days: 30, built: rough,
			work: func(o *plant.WorkOptions) { o.AllDays, o.Closed = true, plant.NeverClosed },
			shop: func() (*shop.Shop, error) { return trial.Shop("C", true) }})
	}
	held, days := heldDays(many(t, scenes))
	assert.Greater(t, held, 0.85*days, "of %g days' intervals of 90 %%", days)
}

// heldDays returns on how many days the interval of 90 % of leakage held the truth, and of how many.
func heldDays(lives []*lived) (held, days float64) {
	for _, l := range lives {
		for i, d := range l.watched.Days {
			if d.Leakage.SE > 0 {
				days++
				if math.Abs(d.Leakage.V-l.truth[i].leak) < 1.645*d.Leakage.SE {
					held++
				}
			}
		}
	}
	return held, days
}

// TestHoodsThatCreepAreNoFindings: where each hood walks by 1 % a week for good, what that feigns is not told, and what is stated of
// leakage holds, with checks and without. With a drift of 2 % believed whatever the record shows, and changes told that are
// withdrawn the next day, these four plants have fifteen alarms.
func TestHoodsThatCreepAreNoFindings(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for _, seed := range []uint64{7004, 7005} {
		scenes = append(scenes,
			scene{seed: seed, work: everyDay, shop: func() (*shop.Shop, error) { return trial.Shop("C", true) }},
			scene{seed: seed, shop: func() (*shop.Shop, error) { return trial.Shop("A", true) },
				work: func(o *plant.WorkOptions) { o.AllDays, o.Closed = true, plant.NeverClosed }})
	}
	for i := range scenes {
		scenes[i].days, scenes[i].built = 60, func(o *plant.Options) { o.HoodCreep = 0.0045 } // √5 days a week
	}
	lives := many(t, scenes)
	for _, l := range lives {
		assert.Empty(t, l.alarms(), "seed %d, 55 days against a baseline, one false alarm a year promised: %s", l.seed, say(l.alarms()))
	}
	held, days := heldDays(lives)
	assert.Greater(t, held, 0.85*days, "of %g days' intervals of 90 %%", days)
}

// TestABarometerThatFallsSilentIsNoSlowFan: air that is no longer measured is taken to be as usual, and known less well.
// Nothing that asks for anything is found, and the fan stays as it was.
func TestABarometerThatFallsSilentIsNoSlowFan(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(1) {
		scenes = append(scenes, scene{seed: 941 + i, days: 36, work: everyDay, shop: withBarometer, heard: func(r *reading.Reading) bool {
			return r.Channel != "main/barometer" || r.Mono < 14*24*time.Hour
		}})
	}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.alarms()))
		assert.Empty(t, l.of(finding.FanSlow, finding.SensorDisagrees, finding.TrunkBlocked), "seed %d", l.seed)
		for _, f := range l.leaks() {
			assert.Equal(t, finding.Journal, f.Priority, say(l.leaks()))
			assert.Less(t, 3600*f.Size, 5.0, "m³/h")
		}
		last := l.watched.Days[len(l.watched.Days)-1].FanRatio
		assert.InDelta(t, 1, last.V, 0.004, "seed %d", l.seed)
	}
}

// TestASensorThatDoesNotAnswerTheFan: a tube that came off, one that is swapped, and a sensor that falls silent are told as
// that sensor's on the day, and nothing else is found; when it answers again, the finding ends and the estimate goes on.
func TestASensorThatDoesNotAnswerTheFan(t *testing.T) {
	t.Parallel()
	from, until := 10*24*time.Hour, 13*24*time.Hour
	for _, c := range []struct {
		channel string
		reads   func(float64) float64 // NaN: nothing
		kind    finding.Kind
		words   string
	}{
		{"main/trunk static", func(float64) float64 { return 0.2 }, finding.SensorDisagrees, "next to nothing"},
		{"main/filter drop", func(float64) float64 { return 0.2 }, finding.SensorDisagrees, "next to nothing"},
		{"main/trunk velocity", func(float64) float64 { return 0.2 }, finding.SensorDisagrees, "next to nothing"},
		{"main/trunk static", func(v float64) float64 { return -v }, finding.SensorDisagrees, "wrong way"},
		{"main/filter drop", func(float64) float64 { return math.NaN() }, finding.SensorLost, "no reading"},
	} {
		l := live(t, scene{seed: 951, days: 18, work: everyDay, heard: func(r *reading.Reading) bool {
			if r.Channel != c.channel || r.Mono < from || r.Mono > until {
				return true
			}
			r.Value = c.reads(r.Value)
			return !math.IsNaN(r.Value)
		}})
		found := l.of(c.kind)
		if !assert.Len(t, found, 1, "%s %s: %s", c.channel, c.words, say(l.alarms())) {
			continue
		}
		f := found[0]
		assert.Equal(t, c.channel, f.Subject)
		assert.Contains(t, f.Text, c.words)
		assert.Equal(t, 10, daysUntil(f.Raised))
		assert.False(t, f.Active(), "it answers again")
		assert.Empty(t, l.of(finding.FanSlow, finding.DropBlocked, finding.TrunkBlocked, finding.OpenSideChanged,
			finding.FilterLostResistance, finding.SensorPlugged), "%s: %s", c.channel, say(l.alarms()))
		for _, leak := range l.leaks() {
			assert.Equal(t, finding.Journal, leak.Priority, say(l.leaks()))
		}
		last := l.watched.Days[len(l.watched.Days)-1].Leakage
		assert.InDelta(t, 0, 3600*last.V, 8, "m³/h, %s", c.channel)
	}
}

// TestAChokedTrunkIsToldAsTheTrunk, its size within what is told of it, however much has settled there: the run's own loss
// is known no better than it is built as drawn.
func TestAChokedTrunkIsToldAsTheTrunk(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i, factor := range []float64{3, 5} {
		scenes = append(scenes, scene{seed: 911 + uint64(i), days: 22, work: everyDay, faults: []plant.Fault{
			{Day: 12, At: 5 * time.Hour, Kind: plant.RunBlockEvent, Name: "trunk 7", Size: factor}}})
	}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.alarms()))
		assert.Empty(t, l.leaks(), "seed %d: %s", l.seed, say(l.leaks()))
		found := l.of(finding.TrunkBlocked)
		if !assert.NotEmpty(t, found, "seed %d: %s", l.seed, say(l.alarms())) {
			continue
		}
		f := found[len(found)-1]
		assert.LessOrEqual(t, daysUntil(f.Raised), 12+5, say(found))
		assert.Greater(t, f.Size, 1.8, say(found))
		assert.LessOrEqual(t, f.SizeLow, l.faults[0].Size, say(found))
		assert.GreaterOrEqual(t, f.SizeHigh, l.faults[0].Size, say(found))
		assert.Contains(t, f.Text, "trunk 7")
	}
}

// TestALidIsToldAsTheInlet: what enters past the last tap does not pass it, and is told to be at the collector.
func TestALidIsToldAsTheInlet(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(2) {
		scenes = append(scenes, scene{seed: 921 + i, days: 20, work: everyDay, faults: []plant.Fault{
			{Day: 12, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: "separator", Size: 80.0 / 3600}}})
	}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.alarms()))
		found := l.leaks()
		if !assert.NotEmpty(t, found, "seed %d", l.seed) {
			continue
		}
		assert.Equal(t, "inlet:main", found[0].Where[0].Part, say(found))
		assert.InEpsilon(t, 80.0/3600, found[0].Size, 0.2, say(found))
	}
}

// TestAHoseThatComesLooseIsTold as the machine's side of its gate, which may be its hose, its hood or what was changed.
func TestAHoseThatComesLooseIsTold(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range uint64(2) {
		scenes = append(scenes, scene{seed: 931 + i, days: 24, work: everyDay, faults: []plant.Fault{
			{Day: 12, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: "open-side:bench saw", Size: 250.0 / 3600}}})
	}
	for _, l := range many(t, scenes) {
		t.Logf("seed %d: %s", l.seed, say(l.alarms()))
		assert.Empty(t, l.of(finding.FanSlow, finding.SensorDisagrees, finding.TrunkBlocked), "seed %d", l.seed)
		told := append(l.of(finding.OpenSideChanged), l.leaks()...)
		if !assert.NotEmpty(t, told, "seed %d: %s", l.seed, say(l.alarms())) {
			continue
		}
		names := append([]string{told[0].Where[0].Part}, told[0].Where[0].Members...)
		assert.Contains(t, names, "blockage:bench saw", say(told))
		assert.Contains(t, names, "open-side:bench saw", say(told))
	}
}

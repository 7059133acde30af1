package steady

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// rest stops the fan and lets it stand.
func (b *bench) rest(d time.Duration, trunk, filter float64) {
	b.put("main/fan", 0)
	b.sample(59*time.Second, wild, wild) // the wheel runs down
	b.sample(d-59*time.Second, trunk, filter)
}

// TestAZeroIsTakenFromStillAir and subtracted from the pressures of the next run, from nothing else.
func TestAZeroIsTakenFromStillAir(t *testing.T) {
	b := newBench(t, twoGates())
	b.rest(5*time.Minute, 4, -2)
	assert.Empty(t, b.f.Zeros(), "the fan still stands")
	b.shut()
	require.Len(t, b.runs, 1)
	assert.Equal(t, Zero, b.runs[0].Kind)
	assert.Zero(t, b.runs[0].FanHours)
	still := of(t, b.runs[0], "main/trunk")
	assert.InDelta(t, 4, still.Mean, 0.5, "what it read")
	assert.Equal(t, still.Mean, still.Zero, "and is now the zero")
	z := b.f.Zeros()
	require.Len(t, z, 2, "a thermometer has no zero")
	assert.Equal(t, still.Mean, z["main/trunk"].Value)
	assert.Equal(t, still.SE, z["main/trunk"].SE)
	assert.Equal(t, monday.Add(5*time.Minute), z["main/trunk"].At)

	b.sample(5*time.Minute, -2000, 300)
	b.put("main/fan", 0)
	require.Len(t, b.runs, 2)
	trunk := of(t, b.runs[1], "main/trunk")
	assert.Equal(t, still.Mean, trunk.Zero)
	assert.InDelta(t, -2004, trunk.Mean, 0.7)
	assert.Equal(t, 5*time.Minute, trunk.ZeroAge)
	assert.Zero(t, of(t, b.runs[1], "main/room").Zero)
	assert.Equal(t, 291.0, of(t, b.runs[1], "main/room").Mean)
}

// TestNoZeroBeforeTheWheelStands, nor from less than a minute of still air.
func TestNoZeroBeforeTheWheelStands(t *testing.T) {
	b := newBench(t, twoGates())
	b.put("main/fan", 1)
	b.rest(118*time.Second, 4, -2)
	b.put("main/fan", 1)
	assert.Empty(t, b.runs)
	assert.Empty(t, b.f.Zeros())
}

// TestNoZeroWhileTheFanIsNotKnown: still air is not still because nobody said otherwise.
func TestNoZeroWhileTheFanIsNotKnown(t *testing.T) {
	b := newBench(t, twoGates())
	b.sample(3*time.Hour, -30, 20)
	b.put("main/fan", 0)
	b.sample(30*time.Second, -30, 20)
	b.put("main/fan", 1)
	assert.Empty(t, b.runs)
	assert.Empty(t, b.f.Zeros())
}

func TestARefusedZero(t *testing.T) {
	for _, c := range []struct {
		name  string
		first float64 // 0: none
		then  float64
		noise float64
		taken bool
	}{
		{"small", 0, 99, 1, true},
		{"too far from nothing", 0, 102, 1, false},
		{"drift", 5, 33, 1, true},
		{"jump", 5, 37, 1, false},
		{"another fan's gusts", 0, 4, 80, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, twoGates())
			if c.first != 0 {
				b.rest(5*time.Minute, c.first, 0)
				b.shut()
			}
			b.noise = c.noise
			b.rest(5*time.Minute, c.then, 0)
			b.shut()
			last := b.runs[len(b.runs)-1]
			require.Equal(t, Zero, last.Kind, "what was read is told even if it is no zero")
			s := of(t, last, "main/trunk")
			z, had := b.f.Zeros()["main/trunk"]
			switch {
			case c.taken:
				assert.InDelta(t, c.then, z.Value, 0.5)
				assert.Zero(t, z.Refused)
			case c.first != 0:
				assert.InDelta(t, c.first, z.Value, 0.5, "the old zero stands")
				assert.Equal(t, s.Mean, z.Refused)
			default:
				assert.False(t, had)
			}
			assert.Equal(t, z.Value, s.Zero)
		})
	}
}

// TestAnHourOfStillAirCounts where the fan starts soon after it was cut off.
func TestAnHourOfStillAirCounts(t *testing.T) {
	b := newBench(t, twoGates())
	b.rest(2*time.Hour+5*time.Second, 4, -2)
	b.shut()
	r := b.one()
	assert.Equal(t, 3600, of(t, r, "main/trunk").N)
	assert.Equal(t, 2*time.Hour, r.End)
	assert.Less(t, b.f.Zeros()["main/trunk"].SE, 0.1)

	b = newBench(t, twoGates())
	b.rest(2*time.Hour+2*time.Minute, 4, -2)
	b.shut()
	assert.Equal(t, 120, of(t, b.one(), "main/trunk").N, "the latest minutes, where they suffice")
}

// TestAZeroIsAsOldAsItsReadings: a recorder that rests with the fan took the zero in the evening, whenever the next
// morning comes.
func TestAZeroIsAsOldAsItsReadings(t *testing.T) {
	b := newBench(t, twoGates())
	b.rest(3*time.Minute, 4, -2)
	b.pass(12 * time.Hour)
	b.shut()
	assert.Equal(t, 3*time.Minute, b.one().End)
	assert.Equal(t, monday.Add(3*time.Minute), b.runs[0].At)
	b.sample(time.Minute, -2000, 300)
	b.put("main/fan", 0)
	assert.Equal(t, 12*time.Hour+time.Minute, of(t, b.runs[1], "main/trunk").ZeroAge)
}

// TestTheAgeOfAZeroOverABoot is by civil time, and not known without it.
func TestTheAgeOfAZeroOverABoot(t *testing.T) {
	for _, clock := range []bool{true, false} {
		b := newBench(t, twoGates())
		b.rest(3*time.Minute, 4, -2)
		b.shut()
		b.pass(time.Hour)
		b.boot, b.mono, b.clock = 2, 0, clock
		b.shut()
		b.sample(time.Minute, -2000, 300)
		b.put("main/fan", 0)
		trunk := of(t, b.runs[len(b.runs)-1], "main/trunk")
		assert.InDelta(t, 4, trunk.Zero, 0.5)
		if clock {
			assert.Equal(t, time.Hour+time.Minute, trunk.ZeroAge)
		} else {
			assert.Negative(t, trunk.ZeroAge)
		}
	}
}

// TestZerosComeBackFromStoredRuns: a restart goes on as if there had been none.
func TestZerosComeBackFromStoredRuns(t *testing.T) {
	b := newBench(t, twoGates())
	for _, zero := range []float64{3, 5, 60, 8} { // the third is refused
		b.rest(3*time.Minute, zero, -2)
		b.shut()
		b.sample(3*time.Minute, -2000, 300)
		again := NewFolder(twoGates())
		for _, r := range b.runs {
			again.Restore(&r)
		}
		assert.Equal(t, b.f.Zeros(), again.Zeros(), "zero %v", zero)
	}
}

// TestRestoringLeavesTheStoredRunAlone.
func TestRestoringLeavesTheStoredRunAlone(t *testing.T) {
	stored := func() Run {
		return Run{Collector: "main", Kind: Zero, Boot: 3, End: time.Hour, At: monday,
			Channels: []Summary{{Channel: "main/trunk", Mean: 4, SE: 0.2, SD: 1, N: 300, Zero: 3}}}
	}
	f, r := NewFolder(twoGates()), stored()
	f.Restore(&r)
	assert.Equal(t, stored(), r)
	assert.Equal(t, Zeroing{Value: 4, SE: 0.2, Boot: 3, Mono: time.Hour, At: monday}, f.Zeros()["main/trunk"])

	r.Kind, r.Channels[0].Mean = Running, 9
	f.Restore(&r)
	assert.Equal(t, 4.0, f.Zeros()["main/trunk"].Value, "a run with the fan on holds no zero")
}

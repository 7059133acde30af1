package steady

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/reading"
)

// day draws a record: switches that move at any time, sensors read once a second or in rows, silence, new boots.
func day(t *rapid.T) []reading.Reading {
	b := newBench(t, twoGates())
	if rapid.Bool().Draw(t, "told at the start") {
		b.shut()
	}
	for range rapid.IntRange(5, 60).Draw(t, "steps") {
		switch rapid.IntRange(0, 11).Draw(t, "what") {
		case 0, 1:
			b.put("gate/saw", float64(rapid.IntRange(0, 1).Draw(t, "open")))
		case 2:
			b.put("gate/planer", float64(rapid.IntRange(0, 1).Draw(t, "open")))
		case 3, 4:
			b.put("main/fan", float64(rapid.IntRange(0, 1).Draw(t, "on")))
		case 5:
			b.put("main/fan", math.NaN())
		case 6:
			b.pass(time.Duration(rapid.SampledFrom([]int{1, 2, 10, 60, 170, 190, 400}).Draw(t, "silence")) * time.Second)
			b.put("main/trunk", math.NaN()) // a moment at which nothing is read
		case 7:
			b.boot++
			b.mono = 0
			b.clock = rapid.Bool().Draw(t, "clock")
		case 8:
			span := time.Duration(rapid.IntRange(5, 90).Draw(t, "row")) * time.Second
			for range rapid.IntRange(1, 60).Draw(t, "rows") {
				b.pass(span)
				b.row("main/trunk", -1500+b.rng.NormFloat64(), 1, span, int(span.Seconds()))
			}
		default:
			b.sample(time.Duration(rapid.IntRange(1, 200).Draw(t, "samples"))*time.Second, -1500, 600)
		}
	}
	return b.all
}

// fold folds readings, calling between after each.
func fold(rs []reading.Reading, between func(*Folder)) []Run {
	f := NewFolder(twoGates())
	var out []Run
	for i := range rs {
		out = append(out, f.Add(&rs[i])...)
		between(f)
	}
	return append(out, f.Flush()...)
}

// TestLookingChangesNothing: a run looked at while it goes on ends as it would have.
func TestLookingChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rs := day(t)
		every := rapid.IntRange(1, 50).Draw(t, "look every")
		n := 0
		looked := fold(rs, func(f *Folder) {
			if n++; n%every == 0 {
				f.Open()
				f.Zeros()
				f.FanOn()
			}
		})
		assert.Equal(t, plain(fold(rs, func(*Folder) {})), plain(looked))
	})
}

// TestTheSameReadingsGiveTheSameRuns, bit for bit.
func TestTheSameReadingsGiveTheSameRuns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rs := day(t)
		assert.Equal(t, plain(fold(rs, func(*Folder) {})), plain(fold(rs, func(*Folder) {})))
	})
}

// TestTheOpenRunIsTheOneThatWouldEndNow, if the fan runs.
func TestTheOpenRunIsTheOneThatWouldEndNow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rs := day(t)
		rs = rs[:rapid.IntRange(1, len(rs)).Draw(t, "so far")]
		f := NewFolder(twoGates())
		for i := range rs {
			f.Add(&rs[i])
		}
		open, ok := f.Open()
		on, known := f.FanOn()
		ended := f.Flush()
		if !on || !known {
			assert.False(t, ok)
			return
		}
		require.Equal(t, ok, len(ended) == 1)
		if ok {
			assert.Equal(t, plain(ended), plain([]Run{open}))
		}
	})
}

// TestTheFansHoursAreConserved: what the runs tell and what is left to tell is the time that the fan was known to run,
// without silence.
func TestTheFansHoursAreConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rs := day(t)
		f := NewFolder(twoGates())
		told := 0.0
		for i := range rs {
			for _, r := range f.Add(&rs[i]) {
				told += r.FanHours
			}
		}
		for _, r := range f.Flush() {
			told += r.FanHours
		}
		assert.InDelta(t, hoursOn(rs), told+f.fanHours, 1e-9)
	})
}

// hoursOn counts the hours between readings while the fan runs.
func hoursOn(rs []reading.Reading) float64 {
	hours, on := 0.0, false
	for i := range rs {
		if i > 0 && on && rs[i].Boot == rs[i-1].Boot {
			gap := rs[i].Mono - rs[i-1].Mono
			if gap-rs[i].Span > silence {
				gap = rs[i].Span // known again from the start of this one
			}
			hours += gap.Hours()
		}
		if i > 0 && on && rs[i].Boot != rs[i-1].Boot {
			hours += rs[i].Span.Hours()
		}
		if rs[i].Channel == "main/fan" {
			on = rs[i].Value == 1
		}
	}
	return hours
}

// TestRunsAreInOrderAndSound: they do not overlap, their numbers are numbers, and each is as long as it must be.
func TestRunsAreInOrderAndSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		runs := fold(day(t), func(*Folder) {})
		for i, r := range runs {
			if i > 0 && runs[i-1].Boot == r.Boot {
				assert.GreaterOrEqual(t, r.Start, runs[i-1].End)
			}
			steady := shortest + settle
			if r.Kind == Zero {
				steady = shortestZero
			} else if i > 0 && runs[i-1].End == r.Start {
				steady = shortest // cut by the hour
			}
			assert.GreaterOrEqual(t, r.End-r.Start, steady)
			require.NotEmpty(t, r.Channels)
			for _, s := range r.Channels {
				assert.False(t, math.IsNaN(s.Mean) || math.IsInf(s.Mean, 0))
				assert.False(t, s.SE < 0)
				assert.Positive(t, s.N)
			}
		}
	})
}

// TestLookingBetweenReadings: what is held back is held back still, however much of it the look has used.
func TestLookingBetweenReadings(t *testing.T) {
	for extra := range 12 {
		record := func(look bool) []Run {
			b := newBench(t, twoGates())
			b.shut()
			b.sample(40*time.Second, -2000, 300)
			for i := range extra {
				b.put("main/trunk", float64(-2000-i))
			}
			b.pass(2 * time.Second)
			b.put("main/trunk", math.NaN()) // a moment at which nothing is read
			if look {
				b.f.Open()
			}
			b.sample(40*time.Second, -2000, 300)
			return append(b.runs, b.f.Flush()...)
		}
		require.NotEmpty(t, record(false))
		assert.Equal(t, plain(record(false)), plain(record(true)))
	}
}

//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/plant"
)

// filterScore counts how the stated resistance of each day compares with the truth, both over the baseline's.
type filterScore struct {
	days, inside int
	square       float64 // of the relative error
}

func (f *filterScore) add(l *lived) {
	base := l.baselineTruth()
	q := detect.Quantile(0.9)
	for _, e := range l.watched.Days {
		truth := l.on(e.Date)
		if math.IsNaN(e.FilterRatio.V) || truth.runs == 0 {
			continue
		}
		f.days++
		miss := e.FilterRatio.V - truth.ratio/base
		if math.Abs(miss) <= q*e.FilterRatio.SE {
			f.inside++
		}
		f.square += math.Pow(miss/(truth.ratio/base), 2)
	}
}

func (f *filterScore) rms() float64 { return math.Sqrt(f.square / float64(f.days)) }

// TestTheFilterIsFollowed over several shops: the stated 90 % interval holds the true resistance on about as many days.
// The error of the baseline is common to all days of a shop, so the share scatters more than that of independent days.
func TestTheFilterIsFollowed(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i := range 8 {
		scenes = append(scenes, scene{seed: 111 + uint64(i), days: 33})
	}
	var score filterScore
	for _, l := range many(t, scenes) {
		score.add(l)
		assertCleanings(t, l, false)
	}
	share := float64(score.inside) / float64(score.days)
	t.Logf("%d of %d days inside, %.3f; error %.4f", score.inside, score.days, share, score.rms())
	assert.GreaterOrEqual(t, score.days, 16*len(scenes))
	assert.GreaterOrEqual(t, share, 0.80)
	assert.Less(t, score.rms(), 0.01)
}

// assertCleanings holds that each true cleaning was noted once, on its day, and none was made up. What was done before
// the baseline was complete is not compared.
func assertCleanings(t *testing.T, l *lived, told bool) {
	t.Helper()
	var want, got []string
	for _, at := range l.cleaned {
		want = append(want, at.Format("2 Jan"))
	}
	for _, f := range l.of(finding.FilterCleaned) {
		if n := len(got); n < len(l.cleaned) {
			at := l.cleaned[n]
			assert.False(t, at.Before(f.OnsetLow) || at.After(f.OnsetHigh), "cleaned %s, said between %s and %s", at, f.OnsetLow, f.OnsetHigh)
			assert.Less(t, f.OnsetHigh.Sub(f.OnsetLow), 72*time.Hour, "no longer than the fan stood")
		}
		got = append(got, f.Onset.Format("2 Jan"))
		assert.Equal(t, finding.Journal, f.Priority)
		assert.InDelta(t, 0.53, f.Size, 0.08, "part of the resistance: %s", f.Text)
		if told {
			assert.Contains(t, f.Text, "The logbook says so too.")
		} else {
			assert.Contains(t, f.Text, "The logbook has no entry for it.")
		}
	}
	assert.Equal(t, want, got, "seed %d: %s", l.seed, say(l.of(finding.FilterCleaned)))
	assert.Empty(t, l.of(finding.FilterLostResistance), "seed %d", l.seed)
}

// TestTheLogbookKnowsOfTheCleaning: the same cleaning with an entry is noted as one.
func TestTheLogbookKnowsOfTheCleaning(t *testing.T) {
	t.Parallel()
	first := live(t, scene{seed: 121, days: 30})
	require.NotEmpty(t, first.cleaned)
	assertCleanings(t, first, false)
	var entries []journal.Entry
	for _, at := range first.cleaned {
		entries = append(entries, journal.Entry{Time: at, Kind: journal.FilterCleaned})
	}
	assertCleanings(t, live(t, scene{seed: 121, days: 30, entries: entries}), true)
}

// TestTheFilterIsFollowedThroughOtherFaults: neither a leak nor a blocked drop passes for dust.
func TestTheFilterIsFollowedThroughOtherFaults(t *testing.T) {
	t.Parallel()
	var scenes []scene
	for i, f := range []plant.Fault{
		{Kind: plant.LeakEvent, Name: "run:trunk 6", Size: 60.0 / 3600},
		{Kind: plant.LeakEvent, Name: "run:trunk 2", Size: 5.0 / 3600, PerDay: 3.0 / 3600},
		{Kind: plant.LeakEvent, Name: "seat:band saw gate", Size: 50.0 / 3600},
		{Kind: plant.BlockEvent, Name: "bench saw", Size: 1.6},
		{Kind: plant.BlockEvent, Name: "thicknesser", Size: 1.9},
	} {
		f.Day, f.At = 11, 5*time.Hour
		scenes = append(scenes, scene{seed: 131 + uint64(i), days: 26, work: everyDay, faults: []plant.Fault{f}})
	}
	var score filterScore
	for _, l := range many(t, scenes) {
		score.add(l)
		assertCleanings(t, l, false)
	}
	share := float64(score.inside) / float64(score.days)
	t.Logf("%d of %d days inside, %.3f; error %.4f", score.inside, score.days, share, score.rms())
	assert.GreaterOrEqual(t, share, 0.78)
	assert.Less(t, score.rms(), 0.01)
}

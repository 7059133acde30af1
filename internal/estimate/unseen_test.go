package estimate_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// silent hears of a record what a watch hears whose gates' switches fall silent on some day, and keeps where they really
// stood.
type silent struct {
	from time.Time
	open map[string]bool
	at   []time.Duration // of each move
	sets []string        // after it
}

func newSilent(from int) *silent { return &silent{from: day(from), open: map[string]bool{}} }

func (s *silent) heard(r *reading.Reading) bool {
	name, ok := strings.CutPrefix(r.Channel, "gate/")
	if !ok {
		return true
	}
	s.open[name] = r.Value == 1
	var set []string
	for g, open := range s.open {
		if open {
			set = append(set, g)
		}
	}
	slices.Sort(set)
	s.at, s.sets = append(s.at, r.Mono), append(s.sets, strings.Join(set, "+"))
	if !r.Time.Before(s.from) {
		r.Value = math.NaN()
	}
	return true
}

// held lists the sets of gates that were open between two moments.
func (s *silent) held(from, to time.Duration) []string {
	first, _ := slices.BinarySearch(s.at, from+1)
	last, _ := slices.BinarySearch(s.at, to)
	return s.sets[first-1 : max(last, first)]
}

// unheard is a shop of the trials with one of the sensor sets, whose gates fall silent on a day.
func unheard(set string, seed uint64, days int, s *silent, faults ...plant.Fault) scene {
	return scene{seed: seed, days: days, faults: faults, heard: s.heard,
		shop: func() (*shop.Shop, error) { return trial.Shop(set, true) },
		work: func(o *plant.WorkOptions) { o.AllDays, o.Walk = true, true }}
}

// TestGatesThatFallSilent: what is open is told by the pressures, with probabilities that hold, and what is sure is
// right; a leak that opens meanwhile and the filter's loading turn no set into another.
func TestGatesThatFallSilent(t *testing.T) {
	t.Parallel()
	leak := plant.Fault{Day: 9, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: "run:trunk 3", Size: 80.0 / 3600}
	var heard []*silent
	var scenes []scene
	for i := range uint64(4) {
		heard = append(heard, newSilent(7))
		scenes = append(scenes, unheard([]string{"A", "C"}[i%2], 12+i, 12, heard[i], leak))
	}
	lives := many(t, scenes)
	var runs, stated, right, sure, sureRight, square, days float64
	for i, l := range lives {
		require.True(t, l.watched.Baseline.Complete)
		for _, g := range l.watched.Guesses {
			told, held := strings.Join(g.Open, "+"), heard[i].held(g.Start, g.End)
			if len(held) > 1 { // something moved within the block that begins or ends it
				assert.False(t, g.Used && !slices.Contains(held, told), "seed %d, at %v: %v held", l.seed, g.To, held)
				continue
			}
			hit := 0.0
			if told == held[0] {
				hit = 1
			}
			runs, stated, right = runs+1, stated+g.Probability, right+hit
			if g.Used {
				sure, sureRight = sure+1, sureRight+hit
			}
		}
		for _, d := range l.watched.Days[7:] {
			assert.Positive(t, d.Guessed+d.Unsure, "seed %d, %s", l.seed, d.Date)
			miss := math.Log(d.FilterRatio.V / (l.on(d.Date).ratio / l.baselineTruth()))
			square, days = square+miss*miss, days+1
			assert.InDelta(t, 0, miss, 4*d.FilterRatio.SE/d.FilterRatio.V, "seed %d, %s: filter", l.seed, d.Date)
		}
	}
	assert.NotEmpty(t, append(lives[1].leaks(), lives[3].leaks()...), "with a far tap most runs are sure, and the leak is found")
	t.Logf("of %.0f runs %.2f right, %.2f stated; %.0f sure, %.3f of them right; filter of a day to %.4f", runs, right/runs, stated/runs, sure, sureRight/sure, math.Sqrt(square/days))
	assert.InDelta(t, stated/runs, right/runs, 0.06)
	assert.GreaterOrEqual(t, sureRight/sure, 0.95)
	assert.Less(t, (sure-sureRight)/runs, 0.015)
	assert.Less(t, math.Sqrt(square/days), 0.02)
}

// TestLookingAtSilentGatesChangesNothing.
func TestLookingAtSilentGatesChangesNothing(t *testing.T) {
	t.Parallel()
	sc := unheard("C", 14, 9, newSilent(6))
	looked := unheard("C", 14, 9, newSilent(6))
	looked.peek = true
	lives := many(t, []scene{sc, looked})
	require.NotEmpty(t, lives[0].watched.Guesses)
	assert.Equal(t, lives[0].watched.Guesses, lives[1].watched.Guesses)
	assert.Empty(t, lives[0].alarms(), say(lives[0].alarms()))
	assert.Equal(t, lives[0].watched.Findings, lives[1].watched.Findings)
	assert.Equal(t, written(lives[0].watched.Days), written(lives[1].watched.Days))
}

// TestGatesThatWereNeverKnown: the filter is followed all the same, as in a shop without a drawing, and the shop is told
// what would bring more.
func TestGatesThatWereNeverKnown(t *testing.T) {
	t.Parallel()
	s := newSilent(0)
	l := live(t, unheard("A", 15, 24, s))
	assert.False(t, l.watched.Baseline.Complete)
	assert.Empty(t, l.alarms(), say(l.alarms()))
	assert.NotEmpty(t, l.of(finding.FilterCleaned))
	assert.Contains(t, strings.Join(l.watched.Lacks, "\n"), "only the filter is followed")
	assert.InDelta(t, len(l.cleaned), len(l.of(finding.FilterCleaned)), 0)
	first, told := 5, 0
	base := 0.0
	for n, d := range l.watched.Days {
		if n < 5 {
			base += math.Log(l.truth[n].ratio) / 5
		}
		if n < first || math.IsNaN(d.FilterRatio.V) {
			continue
		}
		told++
		assert.InDelta(t, 0, math.Log(d.FilterRatio.V)-math.Log(l.truth[n].ratio)+base, 0.12, "day %d", n)
	}
	assert.Greater(t, told, 15)
}

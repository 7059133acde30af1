package rig

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware"
	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/shop"
)

// The demonstration's half year.
var (
	demoStart = time.Date(2026, 5, 18, 0, 0, 0, 0, time.UTC)
	demoEnd   = time.Date(2026, 11, 18, 13, 20, 0, 0, time.UTC)
)

// newDemo makes the demonstration with its sources open on a clock of the test's.
func newDemo(t testing.TB) (*Demo, *clock.Virtual, *hardware.Set) {
	t.Helper()
	s := demo(t)
	d, err := NewDemo(s, demoStart, demoEnd, seed)
	require.NoError(t, err)
	clk := clock.NewVirtual(demoStart)
	d.Use(clk)
	set, err := hardware.Open(s, d, clk, quiet)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, set.Close()) })
	return d, clk, set
}

// goTo moves the clock to a moment.
func goTo(clk *clock.Virtual, to time.Time) { clk.Advance(to.Sub(clk.Now())) }

func TestDemoTellsItsStory(t *testing.T) {
	d, clk, _ := newDemo(t)
	story := d.Stories()[0]
	require.Equal(t, "run:trunk 5", story.Seam)
	at := func(to time.Time) (newLeakage, filter float64) {
		goTo(clk, to)
		require.NoError(t, d.Advance())
		truth, err := d.Truth("main")
		require.NoError(t, err)
		return truth.NewLeakage * 3600, truth.FilterRatio
	}
	leak, _ := at(story.SeamSince.Add(-time.Hour))
	assert.Zero(t, leak, "m³/h before the seam opens")
	leak, _ = at(story.SeamSince.AddDate(0, 0, 30))
	assert.InDelta(t, 12, leak, 0.5, "m³/h a month after")
	leak, filter := at(demoEnd)
	assert.InDelta(t, 25+10, leak, 1, "m³/h at the end: the seam and the seat")
	assert.InDelta(t, 1+0.55*(story.cleanAt-1), filter, 0.1*(story.cleanAt-1), "the filter is due in one to two weeks")
}

func TestDemoFollowsAnyClock(t *testing.T) {
	moments := []time.Duration{0, 9*time.Hour + 17*time.Minute, 33 * time.Hour, 24 * 50 * time.Hour, 24*50*time.Hour + time.Second}
	read := func(step time.Duration) (out []float64) {
		d, clk, _ := newDemo(t)
		for _, m := range moments {
			for clk.Mono() < m {
				clk.Advance(min(step, m-clk.Mono()))
				require.NoError(t, d.Advance())
			}
			truth, err := d.Truth("main")
			require.NoError(t, err)
			out = append(out, truth.FanFlow, truth.FilterRatio, truth.InletStatic)
		}
		return out
	}
	fine, coarse := read(10*time.Minute), read(100*24*time.Hour)
	assert.InDeltaSlice(t, fine, coarse, 5e-3, "the plant is where it is, however one gets there")
}

func TestDemoIsNeverStillOnceLive(t *testing.T) {
	d, clk, set := newDemo(t)
	goTo(clk, demoEnd)
	require.NoError(t, d.Advance())
	last := map[string]float64{}
	for hour := range 30 { // through a night
		moved := 0
		for range 60 {
			clk.Advance(time.Minute)
			for _, p := range set.Pollers() {
				v, _, err := p.Read()
				if err != nil || len(p.Channel()) < 5 || p.Channel()[:5] != "gate/" {
					continue
				}
				if v != last[p.Channel()] {
					moved++
				}
				last[p.Channel()] = v
			}
		}
		assert.Greater(t, moved, 15, "gates moved in hour %d after the end", hour)
		truth, err := d.Truth("main")
		require.NoError(t, err)
		assert.True(t, truth.FanOn, "hour %d", hour)
	}
}

func TestDemoTellsWhenSomethingMovesNext(t *testing.T) {
	d, clk, _ := newDemo(t)
	goTo(clk, time.Date(2026, 6, 3, 20, 0, 0, 0, time.UTC))
	assert.True(t, d.NextMove().Equal(time.Date(2026, 6, 3, 23, 0, 0, 0, time.UTC)), "midnight in London, in summer")
	goTo(clk, time.Date(2026, 6, 4, 3, 0, 0, 0, time.UTC))
	assert.WithinDuration(t, time.Date(2026, 6, 4, 6, 12, 0, 0, time.UTC), d.NextMove(), 8*time.Minute, "soon after seven in London")

	// Nothing moves between the moments that it names, and something does at each of them, through a working day.
	l, c := d.lives[0], demo(t).Collectors[0]
	moves := 0
	for clk.Now().Before(time.Date(2026, 6, 4, 20, 0, 0, 0, time.UTC)) {
		before, next := stands(c, l), d.NextMove()
		require.True(t, next.After(clk.Now()))
		goTo(clk, next.Add(-time.Millisecond))
		require.NoError(t, d.Advance())
		require.Equal(t, before, stands(c, l), "just before %v", next)
		goTo(clk, next)
		require.NoError(t, d.Advance())
		if stands(c, l) != before {
			moves++
		}
	}
	assert.Greater(t, moves, 40)
}

// stands says where everything that moves stands.
func stands(c *shop.Collector, l *life) string {
	out := fmt.Sprint(l.plant.FanOn())
	for _, g := range c.Gates {
		out += fmt.Sprint(" ", l.plant.GateOpen(g.Name))
	}
	for _, s := range c.Selectors {
		out += fmt.Sprint(" ", l.plant.Port(s.Name))
	}
	return out
}

func TestDemoJournal(t *testing.T) {
	d, _, _ := newDemo(t)
	entries := d.Journal(demoEnd)
	kinds := map[journal.Kind]int{}
	for i, e := range entries {
		kinds[e.Kind]++
		assert.True(t, e.Time.Before(demoEnd))
		if i > 0 {
			assert.False(t, e.Time.Before(entries[i-1].Time), "in order")
		}
	}
	assert.Greater(t, kinds[journal.FilterCleaned], 2)
	assert.Greater(t, kinds[journal.BinEmptied], 15)
}

// watch reads the demonstration as a daemon does, each source once a second while the fan runs, and returns how often
// it read and which faults it met.
func watch(t testing.TB, d *Demo, clk *clock.Virtual, set *hardware.Set, until time.Time) (reads int, faults map[hardware.Code]int) {
	faults = map[hardware.Code]int{}
	for clk.Now().Before(until) {
		if l := d.lives[0]; !l.plant.FanOn() && d.NextMove().Sub(clk.Now()) > 10*time.Minute {
			goTo(clk, d.NextMove())
			continue
		}
		clk.Advance(time.Second)
		for _, p := range set.Pollers() {
			if p.Interval() >= time.Minute && clk.Mono()%time.Minute != 0 {
				continue
			}
			reads++
			if _, _, err := p.Read(); err != nil {
				var f *hardware.Fault
				require.ErrorAs(t, err, &f)
				faults[f.Code]++
			}
		}
	}
	return reads, faults
}

// TestNoPartIsAtFault watches the days on which the seam starts to open.
func TestNoPartIsAtFault(t *testing.T) {
	d, clk, set := newDemo(t)
	from := d.Stories()[0].SeamSince.AddDate(0, 0, -1)
	goTo(clk, from)
	reads, faults := watch(t, d, clk, set, from.AddDate(0, 0, 3))
	assert.Greater(t, reads, 300_000)
	assert.Empty(t, faults)
}

// BenchmarkHalfYear is the whole history, through the drivers.
func BenchmarkHalfYear(b *testing.B) {
	for b.Loop() {
		d, clk, set := newDemo(b)
		reads, faults := watch(b, d, clk, set, demoEnd)
		require.Empty(b, faults)
		b.ReportMetric(float64(reads)/1e6, "Mreads")
	}
}

// TestDriversWaitForConversions reads the live demonstration on a clock on which conversions take time.
func TestDriversWaitForConversions(t *testing.T) {
	s := demo(t)
	d, err := NewDemo(s, demoStart, demoEnd, seed)
	require.NoError(t, err)
	clk := slow{clock.NewVirtual(demoEnd)}
	d.Use(clk)
	set, err := hardware.Open(s, d, clk, quiet)
	require.NoError(t, err)
	for range 30 {
		clk.Advance(time.Second)
		for _, p := range set.Pollers() {
			_, _, err := p.Read()
			require.NoError(t, err, p.Channel())
		}
	}
	require.NoError(t, set.Close())
	assert.Greater(t, clk.Mono(), 30*time.Second+30*10*time.Millisecond, "two conversions of 5 ms each second")
}

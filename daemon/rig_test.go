package daemon

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware/rig"
	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/shop"
)

// demoWorld is the demonstration's plants as a World.
type demoWorld struct {
	plants *rig.Demo
	clock  *clock.Virtual
	blind  bool // does not say when something moves next
}

func (w *demoWorld) Advance(time.Duration) {
	if err := w.plants.Advance(); err != nil {
		panic(err)
	}
}

func (w *demoWorld) Next() time.Duration {
	if w.blind {
		return -1
	}
	return w.clock.Mono() + w.plants.NextMove().Sub(w.clock.Now())
}

// demoBegin is a Monday.
var demoBegin = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)

// demoHistory lives through days of the demonstration's shop, through its drivers.
func demoHistory(t testing.TB, days int, blind bool, more ...journal.Entry) *Daemon {
	d := demoDaemon(t, days, blind, more...)
	require.NoError(t, d.History(context.Background(), demoBegin.AddDate(0, 0, days), nil))
	return d
}

// demoDaemon is a daemon that can live through days of the demonstration's shop.
func demoDaemon(t testing.TB, days int, blind bool, more ...journal.Entry) *Daemon {
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	require.NoError(t, shop.Errors(problems))
	s.Outbound = shop.Outbound{}
	end := demoBegin.Add(time.Duration(days) * 24 * time.Hour)
	plants, err := rig.NewDemo(s, demoBegin, end, 1)
	require.NoError(t, err)
	clk := clock.NewVirtual(demoBegin)
	plants.Use(clk)
	d, err := New(Config{Shop: s, DataDir: t.TempDir(), Buses: plants, Clock: clk, World: &demoWorld{plants, clk, blind},
		Logbook: append(plants.Journal(end), more...), Log: quiet()})
	require.NoError(t, err)
	return d
}

// A switch that is asked only when it can have moved tells the same as one that is asked all the time.
func TestTheDemonstrationsHistoryPassesOverStillness(t *testing.T) {
	record := func(blind bool) []string {
		d := demoHistory(t, 1, blind)
		defer func() { require.NoError(t, d.Close()) }()
		return inOrder(storedReadings(t, d.open.store))
	}
	every, jumping := record(true), record(false)
	require.Greater(t, len(every), 40_000)
	require.True(t, slices.Equal(every, jumping))
}

// A daemon that has lived through its history knows what one knows that is started on its record: the logbook was
// entered at its moments.
func TestAStartKnowsWhatHistoryKnew(t *testing.T) {
	d := demoDaemon(t, 12, false, // and two entries that change what is estimated, during work
		journal.Entry{Time: demoBegin.Add((8*24 + 10) * time.Hour), Kind: journal.FilterCleaned, Subject: "main"},
		journal.Entry{Time: demoBegin.Add((3*24 + 11) * time.Hour), Kind: journal.Baseline, Subject: "main"})
	livesOn(t, d, 8, 12)
	defer func() { require.NoError(t, d.Close()) }()
	f := d.open.fold
	known := func() []string {
		c := f.watch.Snapshot().Collectors[0]
		require.NotEmpty(t, c.Findings)
		said := []string{fmt.Sprintf("%+v", c.Baseline), fmt.Sprintf("%+v", c.Findings), fmt.Sprintf("%+v", c.Now)}
		for _, day := range c.Days {
			due := "" // by its value, not its address
			if day.Due != nil {
				due = fmt.Sprintf("%+v", *day.Due)
			}
			day.Due = nil
			said = append(said, fmt.Sprintf("%+v", day), due)
		}
		return said
	}
	entries, err := d.open.store.Journal()
	require.NoError(t, err)
	kinds := map[journal.Kind]int{}
	for _, e := range entries {
		kinds[e.Kind]++
	}
	require.Equal(t, 1, kinds[journal.FilterCleaned])
	require.Positive(t, kinds[journal.BinEmptied])
	lived, state := known(), stateOf(t, f.watch)
	again := func() *ledger {
		f.watch = nil
		f.build()
		b := <-f.building.result()
		require.NoError(t, f.adopt(b))
		return b.resumed
	}
	assert.Nil(t, again(), "there is no checkpoint")
	assert.Equal(t, lived, known())
	assert.True(t, bytes.Equal(state, stateOf(t, f.watch)), "to the byte")

	early := toldUntil(t, f, demoBegin.Add(9*24*time.Hour))
	require.NoError(t, writeCheckpoint(f.folder, early))
	if from := again(); assert.NotNil(t, from) {
		assert.True(t, from.same(&early.ledger))
	}
	assert.Equal(t, lived, known(), "from a checkpoint in the midst of it")
	assert.True(t, bytes.Equal(state, stateOf(t, f.watch)), "to the byte")
}

// livesOn lives from the demonstration's beginning to the end of a day. From the end of an earlier one on, what is kept in
// memory must not grow with the readings: a number kept of each would be eight times what is allowed.
func livesOn(t *testing.T, d *Daemon, from, to int) {
	t.Helper()
	var count []map[string]int
	var readings []uint64
	for _, day := range []int{from, to} {
		require.NoError(t, d.History(context.Background(), demoBegin.AddDate(0, 0, day), nil))
		count = append(count, censusOf(d.open))
		readings = append(readings, d.open.in.seq)
	}
	grown := ofTheWatch(count[1]) - ofTheWatch(count[0])
	assert.Less(t, grown, int(readings[1]-readings[0]), "bytes:\n%s", strings.Join(growth(count[0], count[1]), "\n"))
}

// BenchmarkDemoHistory lives through a month of the demonstration's shop.
func BenchmarkDemoHistory(b *testing.B) {
	for range b.N {
		began := time.Now()
		d := demoHistory(b, 30, false)
		b.ReportMetric(float64(time.Since(began).Nanoseconds())/float64(d.open.in.seq), "ns/reading")
		b.ReportMetric(float64(d.open.in.seq), "readings")
		require.NoError(b, d.Close())
	}
}

// liveDemo is the demonstration's shop live from the end of its story on, by when work never ceases, on a fast clock.
func liveDemo(t *testing.T) (*rig.Demo, Config) {
	t.Helper()
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	require.NoError(t, shop.Errors(problems))
	s.Outbound = shop.Outbound{}
	end := time.Date(2026, 3, 16, 7, 0, 0, 0, time.UTC)
	plants, err := rig.NewDemo(s, end.Add(-24*time.Hour), end, 1)
	require.NoError(t, err)
	clk := newFastClock(end)
	plants.Use(clk)
	return plants, Config{Shop: s, DataDir: t.TempDir(), Buses: plants, Clock: clk, Alarms: promptly}
}

// The demonstration's shop, live: chips on I²C, switches on pins, topics, all through their drivers.
func TestTheDemonstrationsShopRunsLive(t *testing.T) {
	plants, cfg := liveDemo(t)
	s := cfg.Shop
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	var channels []string
	for _, c := range s.Collectors {
		for _, x := range c.Sensors {
			channels = append(channels, c.Name+"/"+x.Name)
		}
		for _, g := range c.Gates {
			channels = append(channels, "gate/"+g.Name)
		}
	}
	eventually(t, "every channel", func() bool {
		for _, c := range channels {
			if seen.have(c) == 0 {
				return false
			}
		}
		return true
	})
	eventually(t, "the fan runs", func() bool {
		snap := view{r.d.open.fold}.Snapshot()
		return snap != nil && snap.Collectors[0].Now.FanOn
	})
	lost := s.Collectors[0].Name + "/" + s.Collectors[0].Sensors[0].Name
	cause := s.Collectors[0].Name + "/sensor-lost/" + lost
	require.Empty(t, seen.states(cause))
	require.NoError(t, plants.Unplug(lost))
	eventually(t, "the alarm", func() bool { return seen.states(cause)[alarm.ActiveUnacknowledged] == 1 })
	before := seen.have(lost)
	require.NoError(t, plants.Mend(lost))
	eventually(t, "it is read again without help", func() bool { return seen.have(lost) > before })
	eventually(t, "it clears", func() bool { return seen.states(cause)[alarm.ClearedUnacknowledged] == 1 })
	require.NoError(t, r.end())
}

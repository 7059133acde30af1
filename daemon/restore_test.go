package daemon

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/store"
)

// recorder notes what a watch would be told, one line each.
type recorder struct{ told []string }

func (r *recorder) Run(x steady.Run) {
	r.told = append(r.told, fmt.Sprintf("run %s boot %d to %v", x.Collector, x.Boot, x.End))
}

func (r *recorder) Entry(e journal.Entry) { r.told = append(r.told, "entry "+e.Note) }

func (r *recorder) Reading(x reading.Reading) []steady.Run {
	r.told = append(r.told, fmt.Sprintf("%s %g boot %d at %v", x.Channel, x.Value, x.Boot, x.Mono))
	return nil
}

// twoCollectors is a shop with a second collector, "finishing", with one sensor.
func twoCollectors() *shop.Shop {
	s := smallShop()
	second := *s.Collectors[0]
	second.Name, second.Gates, second.Machines = "finishing", nil, nil
	second.Sensors = second.Sensors[1:]
	s.Collectors = append(s.Collectors, &second)
	return s
}

// oldStore returns a store with two boots, both placed, the first at monday.
func oldStore(t *testing.T) *store.Store {
	t.Helper()
	s, err := store.Open(t.TempDir(), store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	for _, zero := range []time.Time{monday, monday.Add(24 * time.Hour)} {
		boot, err := s.NewBoot()
		require.NoError(t, err)
		require.NoError(t, s.PlaceBoot(boot, zero))
	}
	return s
}

func oldReading(channel string, boot uint32, minute float64, v float64) reading.Reading {
	r := single(v)
	mono := time.Duration(minute * float64(time.Minute))
	r.Channel, r.Boot, r.Mono, r.Seq = channel, boot, mono, uint64(mono)
	return r
}

func oldRun(collector string, boot uint32, from, to int) steady.Run {
	return steady.Run{Collector: collector, Kind: steady.Running, Boot: boot, Start: time.Duration(from) * time.Minute,
		End: time.Duration(to) * time.Minute}
}

// everything is behind no reading.
var everything = store.Cursor{Boot: 99}

func rebuilt(t *testing.T, s *store.Store, until store.Cursor) []string {
	t.Helper()
	r := &recorder{}
	b := newRebuilder(twoCollectors(), s, r, until)
	entries, err := s.Journal()
	require.NoError(t, err)
	b.entries = byTime(entries)
	require.NoError(t, b.all(context.Background()))
	require.Empty(t, b.damage)
	return r.told
}

func TestThePastIsToldInTheOrderInWhichItHappened(t *testing.T) {
	s := oldStore(t)
	require.NoError(t, s.AppendRuns([]steady.Run{oldRun("main", 1, 0, 60), oldRun("main", 1, 60, 100),
		oldRun("finishing", 1, 0, 80), oldRun("main", 2, 0, 30)}))
	require.NoError(t, s.Append([]reading.Reading{
		oldReading("gate/saw gate", 2, 5, 1), oldReading("gate/saw gate", 2, 25, 0), oldReading("main/fan", 2, 20, 1),
		oldReading("main/trunk", 2, 29, -800), oldReading("main/trunk", 2, 31, -810), oldReading("gate/saw gate", 2, 32, 1),
		oldReading("finishing/trunk", 1, 70, -900), oldReading("finishing/trunk", 1, 90, -910),
		oldReading("finishing/fan", 1, 75, 1), oldReading("long gone", 1, 95, 1),
	}))
	for _, e := range []journal.Entry{ // written late and out of order
		{Time: monday.Add(24*time.Hour + 10*time.Minute), Note: "during the last run"},
		{Time: monday.Add(-time.Hour), Note: "before all"},
		{Time: monday.Add(70 * time.Minute), Note: "between the runs"},
		{Time: monday.Add(24*time.Hour + 90*time.Minute), Note: "after all"},
		{Time: monday.Add(24*time.Hour + 31*time.Minute + 30*time.Second), Note: "in the tail"},
	} {
		_, err := s.AddJournal(e)
		require.NoError(t, err)
	}
	assert.Equal(t, []string{
		"entry before all",
		"run main boot 1 to 1h0m0s",
		"entry between the runs",
		"run finishing boot 1 to 1h20m0s",
		"run main boot 1 to 1h40m0s",
		"entry during the last run",
		"run main boot 2 to 30m0s",
		"finishing/fan 1 boot 1 at 1h20m0s", // where its switch stood, told as of its last run
		"finishing/trunk -910 boot 1 at 1h30m0s",
		"gate/saw gate 0 boot 2 at 30m0s",
		"main/fan 1 boot 2 at 30m0s",
		"main/trunk -810 boot 2 at 31m0s",
		"entry in the tail",
		"gate/saw gate 1 boot 2 at 32m0s",
		"entry after all",
	}, rebuilt(t, s, everything))
}

func TestACollectorWithoutARunIsFoldedFromItsReadings(t *testing.T) {
	s := oldStore(t)
	require.NoError(t, s.Append([]reading.Reading{
		oldReading("main/trunk", 1, 10, -790), // of an earlier boot: too long ago
		oldReading("main/fan", 2, 1, 1), oldReading("main/trunk", 2, 2, -800),
	}))
	assert.Equal(t, []string{"main/fan 1 boot 2 at 1m0s", "main/trunk -800 boot 2 at 2m0s"}, rebuilt(t, s, everything))
}

func TestWhatComesMeanwhileIsToldLater(t *testing.T) {
	s := oldStore(t)
	require.NoError(t, s.Append([]reading.Reading{oldReading("main/fan", 2, 1, 1), oldReading("main/trunk", 2, 2, -800),
		oldReading("main/trunk", 2, 3, -810)}))
	assert.Equal(t, []string{"main/fan 1 boot 2 at 1m0s", "main/trunk -800 boot 2 at 2m0s"},
		rebuilt(t, s, store.Cursor{Boot: 2, Mono: 2 * time.Minute, Seq: uint64(2 * time.Minute)}))
	assert.Equal(t, []string{"main/fan 1 boot 2 at 1m0s"},
		rebuilt(t, s, store.Cursor{Boot: 2, Mono: 2 * time.Minute, Seq: uint64(2*time.Minute) - 1}))
}

// TestWhatAContactToldCutsNothing: it lies in the midst of a stretch, whose readings are all folded again.
func TestWhatAContactToldCutsNothing(t *testing.T) {
	s := oldStore(t)
	told := oldRun("main", 1, 68, 69)
	told.Kind = steady.Contact
	require.NoError(t, s.AppendRuns([]steady.Run{oldRun("main", 1, 0, 60), told}))
	require.NoError(t, s.Append([]reading.Reading{oldReading("main/trunk", 1, 65, -800), oldReading("main/trunk", 1, 70, -810)}))
	assert.Equal(t, []string{"run main boot 1 to 1h0m0s", "run main boot 1 to 1h9m0s",
		"main/trunk -800 boot 1 at 1h5m0s", "main/trunk -810 boot 1 at 1h10m0s"}, rebuilt(t, s, everything))
}

func TestNoPastIsNoTrouble(t *testing.T) { assert.Empty(t, rebuilt(t, oldStore(t), everything)) }

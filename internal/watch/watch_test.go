package watch_test

import (
	"math"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/trial"
	"ductward/internal/watch"
)

const demoPath = "../../hardware/rig/shop.yaml"

func load(t testing.TB, path string) *shop.Shop {
	t.Helper()
	s, problems, err := shop.Load(path)
	require.NoError(t, err)
	for _, p := range problems {
		require.True(t, p.Warning, p.Error())
	}
	return s
}

// shopFiles lists shops of every kind, the demo's among them.
func shopFiles(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob("../../testdata/shops/*.yaml")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 5)
	return append(files, demoPath)
}

func newWatch(t testing.TB, s *shop.Shop) *watch.Watch {
	t.Helper()
	w, err := watch.New(s)
	require.NoError(t, err)
	return w
}

// start is the Monday on which the record begins, and the rest is what happens in it.
var start = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

const (
	demoDays = 11
	leakDay  = 8
	leakSize = 80.0 / 3600 // m³/s at the reference suction
	seed     = 31
)

// demo makes the record of the demo's shop, without a day off, and with a leak in its last days. It is made once.
var demo = sync.OnceValues(func() ([]reading.Reading, error) {
	s, _, err := shop.Load(demoPath)
	if err != nil {
		return nil, err
	}
	r := &trial.Record{Shop: s, Collector: s.Collectors[0], Plant: plant.DefaultOptions(seed), Work: plant.DefaultWork(seed, start)}
	r.Work.Site = s.Site
	r.Work.AllDays = true
	r.Work.Changes = 22
	r.Work.Faults = []plant.Fault{{Day: leakDay, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: "run:trunk 4", Size: leakSize}}
	var out []reading.Reading
	err = r.Run(demoDays, func(rd reading.Reading) { out = append(out, rd) }, func(_ int, p *plant.Plant) { evening = p })
	return out, err
})

// evening is the plant as the record leaves it.
var evening *plant.Plant

// demoPlant returns the plant after the demo's record. Only one test may go on with it.
func demoPlant(t testing.TB) *plant.Plant {
	record(t)
	return evening
}

// record returns the readings of the demo's shop.
func record(t testing.TB) []reading.Reading {
	t.Helper()
	rs, err := demo()
	require.NoError(t, err)
	require.NotEmpty(t, rs)
	return rs
}

// fold gives readings to a watch and returns its runs.
func fold(w *watch.Watch, rs []reading.Reading) []steady.Run {
	var runs []steady.Run
	for _, r := range rs {
		runs = append(runs, w.Reading(r)...)
	}
	return runs
}

// watched is what a watch makes of the whole record.
type watched struct {
	runs []steady.Run
	snap *watch.Snapshot
}

// whole folds the whole record, once for all tests: a snapshot is never changed.
var whole = sync.OnceValue(func() watched {
	rs, err := demo()
	if err != nil {
		panic(err)
	}
	s, _, err := shop.Load(demoPath)
	if err != nil {
		panic(err)
	}
	w, err := watch.New(s)
	if err != nil {
		panic(err)
	}
	runs := fold(w, rs)
	runs = append(runs, w.Flush()...)
	return watched{runs, w.Snapshot()}
})

// only returns what a snapshot says of its only collector.
func only(t testing.TB, s *watch.Snapshot) watch.Collector {
	t.Helper()
	require.Len(t, s.Collectors, 1)
	return s.Collectors[0]
}

// sensor returns the health of one channel.
func sensor(t testing.TB, c watch.Collector, channel string) watch.Sensor {
	t.Helper()
	for _, s := range c.Sensors {
		if s.Channel == channel {
			return s
		}
	}
	require.Failf(t, "no such channel", "%q in %v", channel, c.Sensors)
	return watch.Sensor{}
}

// TestEveryShopCanBeWatched, and a watch that has seen nothing claims nothing.
func TestEveryShopCanBeWatched(t *testing.T) {
	for _, f := range shopFiles(t) {
		t.Run(filepath.Base(f), func(t *testing.T) {
			s := load(t, f)
			w := newWatch(t, s)
			assert.Empty(t, w.Flush())
			snap := w.Snapshot()
			assert.Equal(t, s.Name, snap.Shop)
			assert.Positive(t, snap.ReferenceSuction)
			require.Len(t, snap.Collectors, len(s.Collectors))
			for i, c := range snap.Collectors {
				assert.Equal(t, s.Collectors[i].Name, c.Name)
				assert.False(t, c.Baseline.Complete)
				assert.False(t, c.Now.FanOn)
				assert.True(t, math.IsNaN(c.Now.Flow.V) && math.IsNaN(c.Now.Leakage.V) && math.IsNaN(c.Now.Filter.V))
				assert.Empty(t, c.Days)
				assert.Empty(t, c.Findings)
				require.GreaterOrEqual(t, len(c.Sensors), len(s.Collectors[i].Sensors))
				for _, x := range c.Sensors {
					assert.True(t, math.IsNaN(x.Value) && math.IsNaN(x.Noise) && math.IsNaN(x.Zero), x.Channel)
					assert.True(t, x.At.IsZero() && x.Fault == "", x.Channel)
				}
			}
		})
	}
}

// TestTheDemoIsWatched: the record gives a baseline, days, and the leak that was made.
func TestTheDemoIsWatched(t *testing.T) {
	assert.Greater(t, len(whole().runs), 15*demoDays)
	c := only(t, whole().snap)
	assert.True(t, c.Baseline.Complete)
	assert.Empty(t, c.Baseline.Lacks)
	require.Len(t, c.Days, demoDays)
	for i, d := range c.Days {
		assert.Equal(t, start.AddDate(0, 0, i).Format("2006-01-02"), d.Date)
		assert.Positive(t, d.FanHours)
	}
	var leak *finding.Finding
	for i, f := range c.Findings {
		if (f.Kind == finding.NewLeak || f.Kind == finding.GrowingLeak || f.Kind == finding.GateLeaks) && leak == nil {
			leak = &c.Findings[i]
		}
	}
	require.NotNil(t, leak, "80 m³/h are seen")
	assert.InEpsilon(t, leakSize, leak.Size, 0.3, "m³/s")
	assert.False(t, leak.Raised.Before(start.AddDate(0, 0, leakDay)), "not before it is there: %v", leak.Raised)
}

// TestTheSameReadingsGiveTheSameSnapshot, bit for bit, over all that it holds.
func TestTheSameReadingsGiveTheSameSnapshot(t *testing.T) {
	w := newWatch(t, load(t, demoPath))
	runs := fold(w, record(t))
	runs = append(runs, w.Flush()...)
	assert.Equal(t, flat(whole().runs), flat(runs))
	assert.Equal(t, flat(whole().snap), flat(w.Snapshot()))
}

// TestASnapshotNeverChanges, whatever the watch goes on to learn; and taking one changes nothing.
func TestASnapshotNeverChanges(t *testing.T) {
	w := newWatch(t, load(t, demoPath))
	type held struct {
		snap *watch.Snapshot
		was  []string
	}
	var all []held
	take := func() {
		snap := w.Snapshot()
		all = append(all, held{snap, flat(snap)})
	}
	rs := record(t)
	for i, r := range rs {
		w.Reading(r)
		if i%(len(rs)/25) == 0 {
			take()
		}
	}
	w.Flush()
	assert.Equal(t, flat(whole().snap), flat(w.Snapshot()), "looked at or not")
	take()
	at := start.AddDate(0, 0, demoDays)
	w.Fault("main/air", "not-answering", "no answer on the bus", at)
	take()
	w.FaultCleared("main/air", at.Add(time.Hour))
	w.Entry(journal.Entry{Kind: journal.Baseline, Time: at})
	w.Run(steady.Run{Collector: "main", Start: demoDays * 24 * time.Hour, End: (demoDays*24 + 1) * time.Hour, Boot: 1, At: at.Add(time.Hour)})
	w.Flush()
	assert.False(t, only(t, w.Snapshot()).Baseline.Complete, "a new one is asked for")
	for i, h := range all {
		assert.Equal(t, h.was, flat(h.snap), "snapshot %d", i)
	}
}

// TestStoredRunsTellWhatReadingsTold: a restart from the runs alone knows the same days, findings and baseline.
func TestStoredRunsTellWhatReadingsTold(t *testing.T) {
	again := newWatch(t, load(t, demoPath))
	for _, r := range whole().runs {
		again.Run(r)
	}
	assert.Empty(t, again.Flush(), "nothing goes on")
	a, b := only(t, whole().snap), only(t, again.Snapshot())
	assert.Equal(t, flat(a.Days), flat(b.Days))
	assert.Equal(t, flat(a.Findings), flat(b.Findings))
	assert.Equal(t, flat(a.Baseline), flat(b.Baseline))
	assert.Equal(t, flat(a.NextTest), flat(b.NextTest))
	assert.Equal(t, flat(a.Checks), flat(b.Checks))
	for _, x := range a.Sensors {
		y := sensor(t, b, x.Channel)
		assert.Equal(t, flat([]float64{x.Noise, x.Zero}), flat([]float64{y.Noise, y.Zero}), x.Channel)
		assert.Equal(t, x.ZeroAt, y.ZeroAt, x.Channel)
	}
	other := newWatch(t, load(t, "../../testdata/shops/smallest.yaml"))
	for _, r := range whole().runs {
		r.Collector = "elsewhere"
		other.Run(r)
	}
	assert.Empty(t, only(t, other.Snapshot()).Days, "runs of another collector")
}

// TestARestartInTheNight goes on from stored runs with readings, once the switches have told where they stand.
func TestARestartInTheNight(t *testing.T) {
	rs, night := record(t), start.AddDate(0, 0, 7).Add(3*time.Hour)
	after := newWatch(t, load(t, demoPath))
	for _, r := range whole().runs {
		if r.At.Before(night) {
			after.Run(r)
		}
	}
	cut := 0
	for rs[cut].Time.Before(night) {
		cut++
	}
	stand := map[string]reading.Reading{}
	for _, r := range rs[:cut] {
		if reading.IsSwitch(r.Channel) {
			stand[r.Channel] = r
		}
	}
	for _, r := range stand {
		r.Mono, r.Time = rs[cut].Mono, rs[cut].Time
		after.Reading(r)
	}
	fold(after, rs[cut:])
	after.Flush()
	a, b := only(t, whole().snap), only(t, after.Snapshot())
	require.Len(t, b.Days, len(a.Days))
	for i := range a.Days {
		assert.InDelta(t, a.Days[i].FanHours, b.Days[i].FanHours, 0.03, a.Days[i].Date)
		assert.Equal(t, a.Days[i].Runs, b.Days[i].Runs, a.Days[i].Date)
		if !math.IsNaN(a.Days[i].FilterRatio.V) {
			assert.InEpsilon(t, a.Days[i].FilterRatio.V, b.Days[i].FilterRatio.V, 1e-3, a.Days[i].Date)
		}
	}
	ids := func(fs []finding.Finding) []string {
		var out []string
		for _, f := range fs {
			out = append(out, f.ID)
		}
		return out
	}
	assert.Equal(t, ids(a.Findings), ids(b.Findings))
}

// TestFaultsAreShownAndCleared, at the sensor and among the findings.
func TestFaultsAreShownAndCleared(t *testing.T) {
	w := newWatch(t, load(t, demoPath))
	const channel = "main/filter drop"
	w.Reading(reading.Reading{Channel: channel, Value: 640, Time: start, Boot: 1, Seq: 1})
	s := sensor(t, only(t, w.Snapshot()), channel)
	assert.Equal(t, 640.0, s.Value)
	assert.Equal(t, start, s.At)

	at := start.Add(time.Hour)
	w.Fault(channel, "not-answering", "no answer at address 0x28", at)
	w.Fault(channel, "bad-crc", "checksums do not agree", at.Add(time.Minute))
	c := only(t, w.Snapshot())
	s = sensor(t, c, channel)
	assert.Equal(t, "checksums do not agree", s.Fault)
	assert.Equal(t, at, s.Since, "since the first of them")
	assert.True(t, math.IsNaN(s.Value), "a lost sensor shows no number")
	require.Len(t, c.Findings, 1, "one for the sensor, however its trouble is told")
	assert.Equal(t, finding.SensorLost, c.Findings[0].Kind)
	assert.Equal(t, channel, c.Findings[0].Subject)
	assert.True(t, c.Findings[0].Active())

	w.FaultCleared(channel, at.Add(time.Hour))
	c = only(t, w.Snapshot())
	s = sensor(t, c, channel)
	assert.Empty(t, s.Fault)
	assert.True(t, s.Since.IsZero())
	require.Len(t, c.Findings, 1)
	assert.Equal(t, at.Add(time.Hour), c.Findings[0].Ended)

	w.Fault("gate/planer gate", "stale", "nothing for ten minutes", at)
	assert.NotEmpty(t, sensor(t, only(t, w.Snapshot()), "gate/planer gate").Fault)
	w.Fault("main/no such sensor", "stale", "nothing", at)
	w.FaultCleared("main/no such sensor", at)
	assert.Len(t, only(t, w.Snapshot()).Findings, 2, "a channel that the shop does not have is nobody's")
}

// TestALateReadingIsNotTheLast.
func TestALateReadingIsNotTheLast(t *testing.T) {
	w := newWatch(t, load(t, demoPath))
	w.Reading(reading.Reading{Channel: "main/filter drop", Value: 640, Time: start.Add(time.Minute), Boot: 1, Mono: time.Minute})
	w.Reading(reading.Reading{Channel: "main/filter drop", Value: 3, Time: start, Boot: 1, Quality: reading.Late})
	s := sensor(t, only(t, w.Snapshot()), "main/filter drop")
	assert.Equal(t, 640.0, s.Value)
	assert.Equal(t, start.Add(time.Minute), s.At)
}

// TestValuesAreShownWithoutTheirZero.
func TestValuesAreShownWithoutTheirZero(t *testing.T) {
	w := newWatch(t, load(t, demoPath))
	w.Run(steady.Run{Collector: "main", Kind: steady.Zero, Boot: 1, End: time.Hour, At: start, Channels: []steady.Summary{
		{Channel: "main/filter drop", Mean: 6, SE: 0.2, SD: 1, N: 300, ZeroAge: -1}}})
	w.Reading(reading.Reading{Channel: "main/filter drop", Value: 640, Time: start, Boot: 1, Mono: 2 * time.Hour})
	s := sensor(t, only(t, w.Snapshot()), "main/filter drop")
	assert.Equal(t, 634.0, s.Value)
	assert.Equal(t, 6.0, s.Zero)
	assert.Equal(t, start, s.ZeroAt)
	assert.True(t, math.IsNaN(s.Noise), "still air is not turbulent")
}

// TestANewBaselineIsTakenWhenItIsAskedFor, of this collector or of the shop as a whole.
func TestANewBaselineIsTakenWhenItIsAskedFor(t *testing.T) {
	for subject, version := range map[string]int{"": 2, "another collector": 1} {
		w := newWatch(t, load(t, demoPath))
		asked := false
		for _, r := range whole().runs {
			if at := start.AddDate(0, 0, 6).Add(2 * time.Hour); !asked && r.At.After(at) {
				asked = true
				w.Entry(journal.Entry{Time: at, Kind: journal.Baseline, Subject: subject})
			}
			w.Run(r)
			if version == 1 && r.At.After(start.AddDate(0, 0, 8)) {
				break // nothing came of it
			}
		}
		w.Flush()
		b := only(t, w.Snapshot()).Baseline
		assert.True(t, b.Complete, subject)
		assert.Equal(t, version, b.Version, subject)
	}
}

// undrawn gives the readings of the demo's two main pressures to a shop without a drawing and without gates.
func undrawn(t *testing.T, s *shop.Shop) watch.Collector {
	w := newWatch(t, s)
	for _, r := range record(t) {
		if r.Channel == "main/filter drop" || r.Channel == "main/trunk static" {
			w.Reading(r)
		}
	}
	w.Flush()
	c := only(t, w.Snapshot())
	require.Len(t, c.Days, demoDays)
	hours := 0.0
	for _, d := range c.Days {
		hours += d.FanHours
		assert.Empty(t, d.Zones)
		assert.Empty(t, d.Blockage)
	}
	assert.Greater(t, hours, 5.0*demoDays, "the fan is told by its suction")
	for _, f := range c.Findings {
		for _, p := range f.Where {
			assert.NotContains(t, p.Part, ":", "%s: a place without a drawing", f.ID)
		}
	}
	assert.Contains(t, strings.Join(c.Lacks, " "), "drawing")
	assert.Empty(t, c.Now.Machines)
	return c
}

// TestTheSmallestShop knows neither its fan nor its filter: it counts hours, takes zeros, and learns from the first days how
// the fan's pressure goes with the filter's drop, so that the loading since then is told. Of flow and leakage it claims
// nothing.
func TestTheSmallestShop(t *testing.T) {
	c := undrawn(t, load(t, "../../testdata/shops/smallest.yaml"))
	var told []estimate.Value
	for _, d := range c.Days {
		assert.True(t, math.IsNaN(d.Leakage.V) && math.IsNaN(d.Flow.V), d.Date)
		assert.Nil(t, d.Due, "no limit is known")
		assert.Zero(t, d.ClosedChecks, "no gate is known to be shut")
		if !math.IsNaN(d.FilterRatio.V) {
			told = append(told, d.FilterRatio)
		}
	}
	require.NotEmpty(t, told)
	first, last := told[0], told[len(told)-1]
	assert.InDelta(t, 1, first.V, 1e-9, "over the first day that is told")
	assert.Greater(t, last.V, first.V+2*last.SE, "the filter has loaded since, and that shows")
	for _, s := range c.Sensors {
		assert.InDelta(t, 0, s.Zero, 10, "Pa, %s", s.Channel)
		assert.Positive(t, s.Noise, s.Channel)
	}
}

// TestAShopWithoutADrawing, that knows its fan and its filter: the filter's loading is followed.
func TestAShopWithoutADrawing(t *testing.T) {
	s := load(t, demoPath)
	whole := *s.Collectors[0]
	c := &whole
	c.Network, c.Machines, c.Gates, c.Selectors, c.FanSwitch = nil, nil, nil, nil, nil
	s.Collectors = []*shop.Collector{c}
	days := undrawn(t, s).Days
	seen, shut := 0, 0
	for i, d := range days {
		shut += d.ClosedChecks
		if math.IsNaN(d.FilterRatio.V) {
			continue
		}
		seen++
		assert.Positive(t, d.FilterRatio.SE, d.Date)
		if i > 0 && !math.IsNaN(days[0].FilterRatio.V) {
			assert.Greater(t, d.FilterRatio.V, days[0].FilterRatio.V, "it loads: %s", d.Date)
		}
	}
	assert.Greater(t, seen, demoDays/2)
	assert.Greater(t, shut, demoDays/3, "stretches with next to no air, with nobody telling the gates")
}

// TestTwoCollectorsKeepApart: what the one reads is nothing to the other.
func TestTwoCollectorsKeepApart(t *testing.T) {
	s := load(t, "../../testdata/shops/two-collectors.yaml")
	w, quiet := newWatch(t, s), newWatch(t, s)
	require.Len(t, s.Collectors, 2)
	one, two := s.Collectors[0], s.Collectors[1]
	at := start
	for i := range 600 {
		for _, x := range two.Sensors {
			w.Reading(reading.Reading{Channel: two.Name + "/" + x.Name, Value: 500, Time: at, Boot: 1, Mono: time.Duration(i) * time.Second})
		}
		at = at.Add(time.Second)
	}
	w.Fault(two.Name+"/"+two.Sensors[0].Name, "stale", "nothing", at)
	w.Flush()
	assert.Equal(t, flat(quiet.Snapshot().Collectors[0]), flat(w.Snapshot().Collectors[0]), one.Name)
	assert.NotEqual(t, flat(quiet.Snapshot().Collectors[1]), flat(w.Snapshot().Collectors[1]), two.Name)
}

// TestTheFanIsShownAsItsSwitchStands, and as standing while that is not known.
func TestTheFanIsShownAsItsSwitchStands(t *testing.T) {
	w := newWatch(t, load(t, demoPath))
	for i, c := range []struct {
		value float64
		want  bool
	}{{0, false}, {1, true}, {math.NaN(), false}, {1, true}, {0, false}} {
		w.Reading(reading.Reading{Channel: "main/fan", Value: c.value, Time: start, Boot: 1, Mono: time.Duration(i) * time.Minute})
		assert.Equal(t, c.want, only(t, w.Snapshot()).Now.FanOn, "the switch tells %v", c.value)
	}
}

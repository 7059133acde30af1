package daemon

import (
	"context"
	"math"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/store"
)

// promptly are alarm delays for a fastClock.
var promptly = alarm.Options{
	Instrument: alarm.Delay{On: time.Second, Off: 15 * time.Second}, // longer than a lost sensor takes to be found lost again
	ActToday:   alarm.Delay{On: time.Second, Off: 5 * time.Second},
	Plan:       alarm.Delay{On: time.Second, Off: 5 * time.Second},
}

const lostFilter = "main/sensor-lost/main/filter drop"

func smallConfig(t *testing.T, b *board) Config {
	return Config{Shop: smallShop(), DataDir: t.TempDir(), Buses: b, Clock: newFastClock(monday), Alarms: promptly}
}

func TestNothingThatWasReadIsLost(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "readings with the fan off", func() bool { return seen.have("main/trunk") > 20 })
	b.set("t/fan", 1)
	b.set("t/trunk", -812.5)
	eventually(t, "readings with the fan on", func() bool { return seen.have("main/trunk") > 80 })
	answer, err := http.Get("http://" + r.address + "/")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	assert.Equal(t, http.StatusOK, answer.StatusCode)
	require.NoError(t, r.end())
	http.DefaultClient.CloseIdleConnections()

	stored := storedReadings(t, reopened(t, cfg.DataDir))
	require.Len(t, stored, len(seen.appended))
	last := map[string]float64{}
	for i := range stored {
		assert.Equal(t, seen.appended[i].Channel, stored[i].Channel, "reading %d", i)
		assert.Equal(t, seen.appended[i].Mono, stored[i].Mono, "reading %d", i)
		assert.WithinDuration(t, seen.appended[i].Time, stored[i].Time, 0)
		last[stored[i].Channel] = stored[i].Value
	}
	assert.Equal(t, map[string]float64{"main/trunk": -812.5, "main/filter drop": 0.5, "main/fan": 1, "gate/saw gate": 0,
		"gate/planer gate": 0}, last)
}

func TestAPortInUseStopsTheStart(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	cfg := smallConfig(t, newBoard())
	cfg.Listen = taken.Addr().String()
	cfg.Log = quiet()
	d, err := New(cfg)
	require.NoError(t, err)
	err = d.Run(context.Background())
	require.ErrorContains(t, err, taken.Addr().String())
	assert.NoFileExists(t, cfg.DataDir+"/ductward.db", "nothing was begun")
}

func TestASensorThatFailsAndComesBack(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "readings", func() bool { return seen.have("main/filter drop") > 5 })

	b.unplug("t/filter")
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	sensor := sensorOf(t, r, "main/filter drop")
	assert.Contains(t, sensor.fault, "stale")
	assert.False(t, sensor.since.IsZero())
	before := seen.have("main/trunk")
	eventually(t, "its neighbour goes on", func() bool { return seen.have("main/trunk") > before+10 })

	b.set("t/filter", 0.5)
	eventually(t, "the alarm clears", func() bool { return seen.states(lostFilter)[alarm.ClearedUnacknowledged] == 1 })
	assert.Empty(t, sensorOf(t, r, "main/filter drop").fault)
	id := r.d.open.fold.alarms.Standing()[0].ID
	_, err := bell{r.d.open.fold}.Acknowledge(id, "Ines Holm", r.d.cfg.Clock.Now())
	require.NoError(t, err)
	assert.Equal(t, 1, seen.states(lostFilter)[alarm.Normal], "acknowledged and stored")
	require.NoError(t, r.end())
	assert.Equal(t, 1, seen.raised, "told once")
}

type sensorState struct {
	fault string
	since time.Time
}

func sensorOf(t *testing.T, r *running, channel string) sensorState {
	t.Helper()
	snap := view{r.d.open.fold}.Snapshot()
	if snap == nil {
		return sensorState{}
	}
	for _, s := range snap.Collectors[0].Sensors {
		if s.Channel == channel {
			return sensorState{s.Fault, s.Since}
		}
	}
	panic("no sensor " + channel)
}

func TestARestartContinuesAndRepeatsNoAlarm(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	seen := spyOn(t, &cfg)
	b.unplug("t/filter")
	r := start(t, cfg)
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	id := r.d.open.fold.alarms.Standing()[0].ID
	_, err := bell{r.d.open.fold}.Acknowledge(id, "Ines Holm", r.d.cfg.Clock.Now())
	require.NoError(t, err)
	require.NoError(t, r.end())
	first := len(seen.appended)

	again := spyOn(t, &cfg)
	cfg.Clock = newFastClock(monday.Add(time.Hour))
	r = start(t, cfg)
	eventually(t, "the sensor is found lost again", func() bool {
		return sensorOf(t, r, "main/filter drop").fault != ""
	})
	before := again.have("main/trunk")
	eventually(t, "and some time goes by", func() bool { return again.have("main/trunk") > before+15 })
	standing := r.d.open.fold.alarms.Standing()
	require.Len(t, standing, 1)
	assert.Equal(t, id, standing[0].ID, "the same alarm")
	assert.Equal(t, alarm.ActiveAcknowledged, standing[0].State)
	assert.Equal(t, "Ines Holm", standing[0].AckedBy)
	require.NoError(t, r.end())
	assert.Zero(t, again.raised)

	s := reopened(t, cfg.DataDir)
	assert.Len(t, storedReadings(t, s), first+len(again.appended), "the record goes on where it was")
	boots := map[uint32]bool{}
	for _, x := range storedReadings(t, s) {
		boots[x.Boot] = true
	}
	assert.Len(t, boots, 2)
}

func TestTheRecordIsPlacedOnceTheClockIsSet(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	clk := newFastClock(time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC))
	clk.set(clk.Now(), false)
	cfg.Clock = clk
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "readings without a time", func() bool { return seen.have("main/trunk") > 5 })
	clk.set(monday, true)
	zero := monday.Add(-clk.Mono())
	before := seen.have("main/trunk")
	eventually(t, "readings with a time", func() bool { return seen.have("main/trunk") > before+5 })
	require.NoError(t, r.end())
	assert.True(t, seen.appended[0].Time.IsZero(), "it had none when it was read")
	for i, x := range storedReadings(t, reopened(t, cfg.DataDir)) {
		assert.WithinDuration(t, zero.Add(x.Mono), x.Time, 2*time.Second, "reading %d", i)
	}
}

func TestADriverThatPanicsLeavesTheOthersAlone(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	seen := spyOn(t, &cfg)
	b.breakDriver("t/filter", true)
	r := start(t, cfg)
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	assert.Greater(t, seen.have("main/trunk"), 4)
	assert.Zero(t, seen.have("main/filter drop"))
	b.breakDriver("t/filter", false)
	eventually(t, "it works again", func() bool { return seen.have("main/filter drop") > 5 })
	require.NoError(t, r.end())
}

func TestADiskThatIsFullForAWhileLosesNothing(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	seen := spyOn(t, &cfg)
	seen.failCommits, seen.failAlarms = true, true
	b.unplug("t/filter")
	r := start(t, cfg)
	eventually(t, "failed commits", func() bool {
		seen.mu.Lock()
		defer seen.mu.Unlock()
		return seen.commits > 3
	})
	seen.set(func(s *spy) { s.failCommits, s.failAlarms = false, false })
	eventually(t, "the alarm is stored after all", func() bool {
		return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1
	})
	require.NoError(t, r.end())
	assert.Len(t, storedReadings(t, reopened(t, cfg.DataDir)), len(seen.appended))
	assert.Contains(t, r.log.String(), "commit failed")
	assert.Contains(t, r.log.String(), "commit works again")
}

func TestARecordThatFailsIsAnAlarm(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	seen := spyOn(t, &cfg)
	seen.failCommits = true
	r := start(t, cfg)
	eventually(t, "the alarm", func() bool { return seen.states("/record-failing/")[alarm.ActiveUnacknowledged] == 1 })
	a := r.d.open.fold.alarms.Standing()[0]
	assert.Equal(t, finding.ActToday, a.Priority)
	assert.Contains(t, a.Text, errDiskFull.Error())
	seen.set(func(s *spy) { s.failCommits = false })
	eventually(t, "it clears", func() bool { return seen.states("/record-failing/")[alarm.ClearedUnacknowledged] == 1 })
	require.NoError(t, r.end())
}

func TestAlarmsMoveWithAClockThatIsSetLate(t *testing.T) {
	b := newBoard()
	b.unplug("t/filter")
	cfg := smallConfig(t, b)
	clk := newFastClock(monday)
	clk.set(time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC), false)
	cfg.Clock = clk
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	list := r.d.open.fold.alarms.List()
	assert.Equal(t, 1970, list[0].Raised.Year())
	clk.set(monday, true)
	eventually(t, "the alarm has a time", func() bool {
		seen.mu.Lock()
		defer seen.mu.Unlock()
		for _, a := range seen.alarms {
			return a.Raised.Year() == 2026
		}
		return false
	})
	require.NoError(t, r.end())
	stored, err := reopened(t, cfg.DataDir).Alarms()
	require.NoError(t, err)
	require.Len(t, stored, 1, "the same alarm")
	assert.WithinDuration(t, monday, stored[0].Raised, 2*time.Minute)
}

func TestUpkeepLetsGoOfWhatIsTooOld(t *testing.T) {
	seen := make(chan time.Time)
	s := pruneSpy{seen: seen}
	clk := clock.NewVirtual(monday)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error)
	go func() { ended <- newUpkeep(s, clk, quiet(), nil).run(ctx) }()
	assert.Equal(t, monday.Add(firstUpkeep), <-seen)
	assert.Equal(t, monday.Add(firstUpkeep+upkeepEvery), <-seen)
	stop()
	select {
	case <-seen: // it was about to look once more
	case err := <-ended:
		require.NoError(t, err)
		return
	}
	require.NoError(t, <-ended)
}

type pruneSpy struct {
	keeper
	seen chan time.Time
}

func (p pruneSpy) Damage() error { return nil }

func (p pruneSpy) Space() (store.Space, error) { return store.Space{Size: 1 << 20}, nil }

func (p pruneSpy) Prune(now time.Time) (int, error) {
	p.seen <- now
	return 1, nil
}

func TestAFailedCloseIsAnError(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	seen := spyOn(t, &cfg)
	seen.failClose = true
	r := start(t, cfg)
	require.ErrorIs(t, r.end(), errDiskFull)
}

func TestWhereAPersonPutAGateOutlivesARestart(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	require.NoError(t, r.d.SetByHand("gate/lathe gate", 1))
	require.ErrorContains(t, r.d.SetByHand("gate/saw gate", 1), "by hand")
	require.ErrorContains(t, r.d.SetByHand("gate/lathe gate", 2), "0 or 1")
	require.ErrorContains(t, r.d.SetByHand("gate/nowhere", 1), "nowhere")
	eventually(t, "the gate", func() bool { return seen.have("gate/lathe gate") == 1 })
	require.NoError(t, r.end())
	require.ErrorContains(t, r.d.SetByHand("gate/lathe gate", 0), "not running")

	cfg.Clock = newFastClock(monday.Add(time.Hour))
	again := spyOn(t, &cfg)
	r = start(t, cfg)
	eventually(t, "the gate, in the new boot", func() bool { return again.have("gate/lathe gate") == 1 })
	require.NoError(t, r.end())
	rs := storedReadings(t, reopened(t, cfg.DataDir), "gate/lathe gate")
	require.Len(t, rs, 2)
	assert.InDelta(t, 1, rs[1].Value, 0)
	assert.Equal(t, uint32(2), rs[1].Boot)
}

func TestAnEntryOfYesterdayIsTakenWhereItBelongs(t *testing.T) {
	l := liveFor(t, 20, false) // a working day behind us
	f := l.d.open.fold
	was := f.watch
	now := midnight.Add(20 * time.Hour)
	cleaned := journal.Entry{Time: now.Add(-4 * time.Hour), Kind: journal.FilterCleaned, By: "Ines Holm", Note: "an hour early"}
	n, err := logbook{f}.AddJournal(journal.Entry{Kind: journal.BinEmptied, By: "Ines Holm"})
	require.NoError(t, err)
	assert.Equal(t, uint64(1), n)
	f.takeWaiting()
	assert.Nil(t, f.building, "an entry of now needs no new watch")
	n, err = logbook{f}.AddJournal(cleaned)
	require.NoError(t, err)
	assert.Equal(t, uint64(2), n)
	f.takeWaiting()
	require.NotNil(t, f.building)

	l.clock.Advance(time.Second) // life goes on meanwhile
	c := l.d.open.channels["gate/saw gate"]
	f.in.take(c, single(1))
	_, err = logbook{f}.AddJournal(journal.Entry{Kind: journal.Check, By: "Joost"})
	require.NoError(t, err)
	f.takeWaiting()
	require.NoError(t, f.adopt(<-f.building.result()))
	assert.NotSame(t, was, f.watch)
	assert.Nil(t, f.building)
	assert.Empty(t, f.written)
	assert.Equal(t, []string{"saw gate"}, view{f}.Snapshot().Collectors[0].Now.Open, "what came meanwhile is told")
	require.NoError(t, l.d.Close())
	entries, err := reopened(t, l.dir).Journal()
	require.NoError(t, err)
	require.Len(t, entries, 3)
	assert.True(t, now.Equal(entries[0].Time), "an entry without a time is of now")
}

func TestAWatchThatIsNotMadeYetHoldsNobodyUp(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	cfg.Clock, cfg.Log = newFastClock(monday), quiet()
	d, err := New(cfg)
	require.NoError(t, err)
	s, err := d.session()
	require.NoError(t, err)
	f := s.fold
	f.building = &building{cancel: func() {}, done: make(chan built, 1)} // one that takes its time
	f.in.take(s.channels["main/trunk"], single(-800))
	f.in.tell(fault{channel: "main/filter drop", code: "not-answering", text: "no answer"})
	f.takeWaiting()
	f.keepHouse(0)
	assert.Nil(t, view{f}.Snapshot(), "nothing is known yet")
	f.building.done <- built{err: context.Canceled}
	require.NoError(t, d.Close())
	assert.Len(t, storedReadings(t, reopened(t, cfg.DataDir)), 1, "but what was read is stored")
}

func TestFingerprintTellsVersionsOfAFindingApart(t *testing.T) {
	a := finding.Finding{ID: "x", Size: nan(), Text: "a"}
	b := a
	assert.Equal(t, fingerprint(a), fingerprint(b), "what is not known does not make a change")
	b.Text = "b"
	assert.NotEqual(t, fingerprint(a), fingerprint(b))
}

func TestASizeWithoutABoundIsStoredAsNotKnown(t *testing.T) {
	s := oldStore(t)
	x := storable(finding.Finding{ID: "x", Raised: monday, Size: 0.01, SizeLow: 0.005, SizeHigh: math.Inf(1)})
	require.NoError(t, s.PutFindings("main", []finding.Finding{x}))
	list, err := s.Findings("main")
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.InDelta(t, 0.01, list[0].Size, 0)
	assert.True(t, math.IsNaN(list[0].SizeHigh))
}

func TestConfigSaysWhatIsMissing(t *testing.T) {
	for want, cfg := range map[string]Config{
		"no shop":           {DataDir: "x", Clock: clock.NewSystem()},
		"no data directory": {Shop: smallShop(), Clock: clock.NewSystem()},
		"no clock":          {Shop: smallShop(), DataDir: "x"},
	} {
		_, err := New(cfg)
		require.ErrorContains(t, err, want)
	}
}

func nan() float64 { return single(0).SD }

package daemon

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/store"
)

// script is a world in which topics change at stated times.
type script struct {
	board  *board
	events []event
	at     time.Duration
	blind  bool // does not say when it moves next
	steps  int
}

type event struct {
	at    time.Duration
	topic string
	v     float64
}

func (s *script) Advance(to time.Duration) {
	s.at = to
	s.steps++
	for len(s.events) > 0 && s.events[0].at <= to {
		s.board.set(s.events[0].topic, s.events[0].v)
		s.events = s.events[1:]
	}
}

func (s *script) Next() time.Duration {
	if s.blind {
		return -1
	}
	if len(s.events) == 0 {
		return 1 << 62
	}
	return s.events[0].at
}

// workday is a day's events from midnight on: the fan from 7 to 16 o'clock, gates opened and shut, at odd seconds.
func workday(day int) []event {
	at := func(h, m int, s float64) time.Duration {
		return time.Duration(day)*24*time.Hour + time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s*float64(time.Second))
	}
	return []event{
		{at(7, 0, 0.3), "t/fan", 1}, {at(7, 0, 0.3), "t/trunk", -2100}, {at(7, 0, 0.3), "t/filter", 90},
		{at(7, 30, 12.7), "t/saw", 1}, {at(7, 30, 12.7), "t/trunk", -1500}, {at(7, 30, 12.7), "t/filter", 600},
		{at(9, 0, 59.9), "t/saw", 0}, {at(9, 1, 2.5), "t/planer", 1},
		{at(12, 0, 0), "t/fan", 0}, {at(12, 0, 0), "t/trunk", 0.4}, {at(12, 0, 0), "t/filter", -0.2},
		{at(12, 45, 1.1), "t/fan", 1}, {at(12, 45, 1.1), "t/trunk", -1490}, {at(12, 45, 1.1), "t/filter", 605},
		{at(16, 0, 30), "t/planer", 0}, {at(16, 0, 31), "t/fan", 0}, {at(16, 0, 31), "t/trunk", 0.4}, {at(16, 0, 31), "t/filter", -0.2},
	}
}

var midnight = time.Date(2026, 3, 16, 0, 0, 0, 0, time.UTC)

// lived is what a history of some days leaves.
type lived struct {
	dir   string
	world *script
	clock *clock.Virtual
	d     *Daemon
}

func liveFor(t *testing.T, hours int, blind bool) lived {
	total := time.Duration(hours) * time.Hour
	t.Helper()
	b := newBoard()
	w := &script{board: b, blind: blind}
	for day := range 3 {
		w.events = append(w.events, workday(day)...)
	}
	l := lived{dir: t.TempDir(), world: w, clock: clock.NewVirtual(midnight)}
	cfg := Config{Shop: watchedShop(), DataDir: l.dir, Buses: b, Clock: l.clock, World: w, Log: quiet()}
	var err error
	l.d, err = New(cfg)
	require.NoError(t, err)
	var done time.Duration
	require.NoError(t, l.d.History(context.Background(), midnight.Add(total), func(d, all time.Duration) {
		assert.Greater(t, d, done)
		assert.Equal(t, total, all)
		done = d
	}))
	assert.Equal(t, total, done)
	return l
}

func inOrder(rs []reading.Reading) []string {
	out := make([]string, len(rs))
	for i, r := range rs {
		out[i] = fmt.Sprint(r.Mono, r.Seq, r.Channel, r.Value)
	}
	return out
}

func TestHistoryThatPassesOverStillnessRecordsTheSame(t *testing.T) {
	every, jumping := liveFor(t, 31, true), liveFor(t, 31, false)
	require.NoError(t, every.d.Close())
	require.NoError(t, jumping.d.Close())
	a, b := reopened(t, every.dir), reopened(t, jumping.dir)
	require.Equal(t, inOrder(storedReadings(t, a)), inOrder(storedReadings(t, b)))
	assert.Less(t, jumping.world.steps, every.world.steps/2, "steps taken")
	assert.Equal(t, inWords(runsOf(t, a)), inWords(runsOf(t, b)))
}

func runsOf(t *testing.T, s keeper) []steady.Run {
	t.Helper()
	var out []steady.Run
	for r, err := range s.Runs("main") {
		require.NoError(t, err)
		out = append(out, r)
	}
	return out
}

// inWords prints runs one by one: a NaN in them equals nothing.
func inWords(runs []steady.Run) []string {
	out := make([]string, len(runs))
	for i, r := range runs {
		out[i] = fmt.Sprint(r)
	}
	return out
}

// watchedShop knows where every gate stands.
func watchedShop() *shop.Shop {
	s := smallShop()
	c := s.Collectors[0]
	c.Gates = c.Gates[:2]
	return s
}

func TestHistoryIsSampledByTheSchedule(t *testing.T) {
	l := liveFor(t, 72, false)
	require.NoError(t, l.d.Close())
	s := reopened(t, l.dir)
	perDay := map[int]int{}
	for _, r := range storedReadings(t, s, "main/trunk") {
		perDay[int(r.Mono/(24*time.Hour))]++
	}
	// 3 h and 4:59:30 and 3:15:30 of fan at one a second, three rests of four minutes at one a second, the rest at one a
	// minute.
	running := 5*3600 - 0.3 + 3*3600 + 900 + 29.9
	resting := (24*3600 - running - 2*240) / 60
	assert.InDelta(t, running+2*240+resting, perDay[1], 15)

	var kinds []steady.Kind
	for _, r := range runsOf(t, s) {
		if r.Boot == 1 && r.Start >= 24*time.Hour && r.End < 48*time.Hour {
			kinds = append(kinds, r.Kind)
		}
	}
	assert.Contains(t, kinds, steady.Running)
	assert.Contains(t, kinds, steady.Closed)
	assert.Contains(t, kinds, steady.Zero)
}

func TestRunGoesOnWhereHistoryEnded(t *testing.T) {
	l := liveFor(t, 72, false)
	l.d.cfg.pace = quick
	l.d.cfg.Listen = "127.0.0.1:0"
	listening := make(chan string, 1)
	l.d.cfg.Listening = func(a string) { listening <- a }
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- l.d.Run(ctx) }()
	<-listening
	eventually(t, "readings behind the history", func() bool {
		return l.d.open.store.Latest()["main/trunk"].Mono > 72*time.Hour
	})
	stop()
	require.NoError(t, <-ended)
	s := reopened(t, l.dir)
	rs := storedReadings(t, s)
	last := rs[len(rs)-1]
	assert.Equal(t, uint32(1), last.Boot, "one boot, since the clock never stopped")
	assert.GreaterOrEqual(t, last.Mono, 72*time.Hour)
}

func TestHistoryNeedsAClockThatItCanMove(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	cfg.Log = quiet()
	d, err := New(cfg)
	require.NoError(t, err)
	require.ErrorContains(t, d.History(context.Background(), monday.Add(time.Hour), nil), "virtual clock")
}

func TestHistoryStopsWhenItIsTold(t *testing.T) {
	b := newBoard()
	cfg := Config{Shop: watchedShop(), DataDir: t.TempDir(), Buses: b, Clock: clock.NewVirtual(midnight), Log: quiet(),
		World: &script{board: b, events: workday(0)}}
	d, err := New(cfg)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	err = d.History(ctx, midnight.Add(1000*time.Hour), func(done, _ time.Duration) {
		if done > 8*time.Hour {
			stop()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	require.NoError(t, d.Close())
}

func TestHistoryEntersTheLogbookOfItsTime(t *testing.T) {
	b := newBoard()
	at := func(hours float64) journal.Entry {
		return journal.Entry{Time: midnight.Add(time.Duration(hours * float64(time.Hour))), Kind: journal.Check, By: "Joost"}
	}
	book := []journal.Entry{at(-1), at(0), at(7.5), at(11.99), at(12), at(19), at(20)}
	shuffled := append(slices.Clone(book[4:]), book[:4]...)
	d, err := New(Config{Shop: watchedShop(), DataDir: t.TempDir(), Buses: b, Clock: clock.NewVirtual(midnight), Log: quiet(),
		World: &script{board: b, events: workday(0)}, Logbook: shuffled})
	require.NoError(t, err)
	entered := func() []journal.Entry {
		list, err := d.open.store.Journal()
		require.NoError(t, err)
		for i := range list {
			list[i].Time = list[i].Time.UTC()
		}
		return list
	}
	require.NoError(t, d.History(context.Background(), midnight.Add(12*time.Hour), nil))
	assert.Equal(t, book[1:4], entered(), "up to the end, and the end belongs to what follows")
	require.NoError(t, d.History(context.Background(), midnight.Add(20*time.Hour), nil))
	assert.Equal(t, book[1:6], entered())
	require.NoError(t, d.Close())
}

// A record that could be made again need not wait for the card; what is made on top of it must.
func TestHistoryPromisesNothingBeforeItsEnd(t *testing.T) {
	cfg := Config{Shop: watchedShop(), DataDir: t.TempDir(), Clock: clock.NewVirtual(midnight), Log: quiet()}
	b := newBoard()
	cfg.Buses, cfg.World = b, &script{board: b, events: workday(0)}
	seen := spyOn(t, &cfg)
	d, err := New(cfg)
	require.NoError(t, err)
	require.NoError(t, d.History(context.Background(), midnight.Add(8*time.Hour), nil))
	ctx, stop := context.WithCancel(context.Background())
	err = d.History(ctx, midnight.Add(1000*time.Hour), func(time.Duration, time.Duration) { stop() })
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, []bool{true, false, true, false}, seen.bulk, "one that was cut short too")
	seen.failBulk = true
	require.ErrorIs(t, d.History(context.Background(), midnight.Add(40*time.Hour), nil), errDiskFull)
	assert.Nil(t, d.open, "nobody goes on with a store that promises nothing")
	require.NoError(t, d.Close())
	assert.Len(t, storedReadings(t, reopened(t, cfg.DataDir)), len(seen.appended))
}

// What was stored before the power went is folded again at the next start, and gives what it would have given.
func TestAPowerCutLosesNoRunThatWasStored(t *testing.T) {
	l := liveFor(t, 72, false)
	whole := l.d.open
	require.NoError(t, whole.store.Commit())
	cut := t.TempDir()
	copyFile(t, l.dir+"/"+store.FileName, cut+"/"+store.FileName) // as the card has it, with no goodbye
	wantRuns, want := inWords(runsOf(t, whole.store)), view{whole.fold}.Snapshot()
	require.NoError(t, l.d.Close())

	b := newBoard()
	d, err := New(Config{Shop: watchedShop(), DataDir: cut, Buses: b, Clock: clock.NewVirtual(midnight.Add(73 * time.Hour)), Log: quiet(),
		World: &script{board: b}})
	require.NoError(t, err)
	s, err := d.session()
	require.NoError(t, err)
	require.NoError(t, s.ready(context.Background()))
	s.fold.look(0)
	assert.Equal(t, wantRuns, inWords(runsOf(t, s.store)))
	got := view{s.fold}.Snapshot()
	assert.Equal(t, fmt.Sprint(want.Collectors[0].Days), fmt.Sprint(got.Collectors[0].Days))
	assert.Equal(t, fmt.Sprint(want.Collectors[0].Now), fmt.Sprint(got.Collectors[0].Now))
	require.NoError(t, d.Close())
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	src, err := os.Open(from)
	require.NoError(t, err)
	defer src.Close()
	dst, err := os.Create(to)
	require.NoError(t, err)
	_, err = io.Copy(dst, src)
	require.NoError(t, err)
	require.NoError(t, dst.Close())
}

// BenchmarkHistory lives through days of a small shop; the driver is the decoder of a number in text.
func BenchmarkHistory(b *testing.B) {
	for range b.N {
		board := newBoard()
		w := &script{board: board}
		for day := range 30 {
			w.events = append(w.events, workday(day)...)
		}
		d, err := New(Config{Shop: watchedShop(), DataDir: b.TempDir(), Buses: board, Clock: clock.NewVirtual(midnight), World: w, Log: quiet()})
		require.NoError(b, err)
		began := time.Now()
		require.NoError(b, d.History(context.Background(), midnight.Add(30*24*time.Hour), nil))
		n := d.open.in.seq
		b.ReportMetric(float64(time.Since(began).Nanoseconds())/float64(n), "ns/reading")
		require.NoError(b, d.Close())
	}
}

package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/store"
	"ductward/internal/watch"
)

// fold takes everything that happens in one order: it stores it, gives it to the watch, and tells what follows. Its
// methods belong to one goroutine, but for addEntry and acknowledge.
type fold struct {
	shop   *shop.Shop
	clk    clock.Clock
	log    *slog.Logger
	pace   pace
	store  keeper
	in     *intake
	fans   []*fan
	alarms *alarm.Manager
	out    *outward // nil: nothing is published
	tells  *teller  // nil: nobody is told
	shown  bool     // the first snapshot of a Run has been made
	known  func()   // called with the first snapshot of a Run; nil: nobody asks, or it has been called

	watch    *followed // nil until it has been made from what is stored
	building *building // the watch in the making; nil: none is
	snapshot atomic.Pointer[watch.Snapshot]

	asked   chan chan struct{} // by those who wait until what they gave the intake is taken
	writing sync.Mutex         // held while an entry goes into the journal
	written []journal.Entry    // in the journal, and not yet told to the watch
	logbook []journal.Entry    // of History, not yet entered
	telling sync.Mutex         // held while alarms change, so that all hear of it in one order
	notKept []alarm.Alarm      // alarms that the store did not take

	notEntered []journal.Entry // what happened to them, likewise
	changes    map[string]int  // by alarm: up to which change the logbook has it

	spare    []reading.Reading
	last     store.Cursor // of the last reading that was taken
	lastRun  time.Time    // civil end of the last run
	standing map[string]fault
	placed   time.Time // civil time of monotonic 0 by the trusted clock; zero: it is not trusted yet
	believed time.Time // by the clock as it is
	stored   stored

	folder         string // of the store, where checkpoints lie; "": none are made
	kept           ledger // of the checkpoint there
	nextCheckpoint time.Duration
	checkpointing  trouble

	news         bool // since the last look
	found        bool // since the last look, what may change findings
	nextLook     time.Duration
	lastCommit   time.Duration
	nextCommit   time.Duration
	committing   trouble
	appending    trouble
	keeping      trouble
	lostReadings int
	damaged      damaged

	gaps     *gapBook
	shopFrom time.Time // since when the shop file holds
	shopDue  bool      // it could not be stored yet
}

func newFold(c *Config, s *session, fans []*fan, alarms *alarm.Manager) *fold {
	return &fold{
		shop: c.Shop, clk: c.Clock, log: c.Log, pace: c.pace, folder: c.DataDir,
		store: s.store, in: s.in, fans: fans, alarms: alarms,
		asked:         make(chan chan struct{}),
		standing:      map[string]fault{},
		changes:       map[string]int{},
		gaps:          newGapBook(c.Shop, s.store.Latest()),
		stored:        stored{findings: map[string]uint64{}, baseline: map[string]uint64{}},
		committing:    trouble{what: "commit", log: c.Log},
		appending:     trouble{what: "taking readings into the store", log: c.Log},
		keeping:       trouble{what: "storing findings and alarms", log: c.Log},
		checkpointing: trouble{what: "writing a checkpoint", log: c.Log},
	}
}

// run takes what comes until the context is done, and then everything that still waits. It begins to take at once:
// what is read while the watch is made from the past is stored, and told to it afterwards.
func (f *fold) run(ctx context.Context) error {
	if f.watch == nil {
		f.build()
	} else { // History has made it
		f.news, f.shown = true, false
		f.look(f.clk.Mono())
	}
	tick := time.NewTicker(f.pace.housekeeping)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return f.finish()
		case b := <-f.building.result():
			if err := f.adopt(b); err != nil {
				return errors.Join(err, f.finish())
			}
		case <-f.in.wake:
			f.takeWaiting()
		case taken := <-f.asked:
			f.takeWaiting()
			close(taken)
		case <-tick.C:
			f.takeWaiting()
			f.keepHouse(f.clk.Mono())
		}
	}
}

// waitTaken returns when everything that was in the intake has been stored and told, or after some time, and then false:
// a fold that is busy or has ended holds nobody up, and takes what is left to it all the same.
func (f *fold) waitTaken(most time.Duration) bool {
	late := time.NewTimer(most)
	defer late.Stop()
	taken := make(chan struct{})
	select {
	case f.asked <- taken:
	case <-late.C:
		return false
	}
	select {
	case <-taken:
		return true
	case <-late.C:
		return false
	}
}

func (f *fold) takeWaiting() {
	b := f.in.swap(f.spare)
	f.take(b)
	f.spare = b.readings
	f.takeEntries()
}

// take folds one batch.
func (f *fold) take(b batch) {
	for _, news := range b.faults {
		f.fault(news)
	}
	if b.lost > 0 {
		f.lostReadings += b.lost
		f.log.Error("readings were lost: the fold is too slow", "lost", b.lost, "since start", f.lostReadings)
	}
	if len(b.readings) > 0 {
		f.takeReadings(b)
	}
	if f.out != nil {
		f.out.taken(b.readings, b.until)
	}
}

func (f *fold) takeReadings(b batch) {
	f.news = true
	_ = f.appending.see(b.mono, f.store.Append(b.readings)) // logged there; what was taken goes on
	newest := &b.readings[len(b.readings)-1]
	for i := range b.readings {
		f.gaps.reading(&b.readings[i])
	}
	f.last = store.Cursor{Boot: newest.Boot, Mono: newest.Mono, Seq: newest.Seq}
	f.watchReadings(b.readings)
	if f.building != nil {
		f.building.behind = append(f.building.behind, b.readings...)
	}
}

func (f *fold) watchReadings(rs []reading.Reading) {
	if f.watch == nil {
		return
	}
	for i := range rs {
		if len(f.logbook) > 0 {
			f.enterUntil(rs[i].Time)
		}
		if runs := f.watch.Reading(rs[i]); len(runs) > 0 {
			f.keepRuns(runs, rs[i].Mono)
		}
	}
}

func (f *fold) keepRuns(runs []steady.Run, mono time.Duration) {
	f.found = true
	for _, r := range runs {
		f.lastRun = later(f.lastRun, r.At)
	}
	_ = f.appending.see(mono, f.store.AppendRuns(runs))
}

// fault passes news of a fault to the watch.
func (f *fold) fault(news fault) {
	f.news, f.found = true, true
	if news.code == "" {
		delete(f.standing, news.channel)
		if f.watch != nil {
			f.watch.FaultCleared(news.channel, news.at)
		}
		return
	}
	if old, ok := f.standing[news.channel]; ok {
		news.at = old.at // another code, the same trouble
	}
	f.standing[news.channel] = news
	if f.watch != nil {
		f.watch.Fault(news.channel, news.code, news.text, news.at)
	}
}

// finish takes what still waits, ends the open runs and commits. A watch that is not made yet is given up: what it would
// have been told is stored, and the next start tells it.
func (f *fold) finish() error {
	f.building.giveUp()
	f.building = nil
	f.takeWaiting()
	mono := f.clk.Mono()
	if f.watch != nil {
		if runs := f.watch.Flush(); len(runs) > 0 {
			f.keepRuns(runs, mono)
		}
		f.news, f.found = true, true
		f.look(mono)
	}
	if err := f.commit(mono); err != nil {
		return fmt.Errorf("last commit: %w", err)
	}
	if f.keeping.stands() {
		return errors.New("the last alarms and findings could not be stored: the log says why")
	}
	return nil
}

// civil returns the best civil time there is for a label at mono.
func (f *fold) civil(mono time.Duration) time.Time {
	if t := f.in.civil(mono); !t.IsZero() {
		return t
	}
	return f.clk.Now()
}

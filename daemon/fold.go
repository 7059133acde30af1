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
	"ductward/internal/watch"
)

// errStopped is returned to whoever asks the fold for something after it has ended.
var errStopped = errors.New("the daemon is stopping")

// fold takes everything that happens in one order: it stores it, gives it to the watch, and tells what follows. Its
// methods belong to one goroutine, but for call, addJournal and acknowledge.
type fold struct {
	shop   *shop.Shop
	clk    clock.Clock
	log    *slog.Logger
	pace   pace
	store  keeper
	in     *intake
	fans   []*fan
	watch  *watch.Watch
	alarms *alarm.Manager
	out    *outward // nil: nothing is published

	writing  sync.Mutex // held while an entry goes into the journal and to the watch
	asked    chan func()
	ended    chan struct{}
	snapshot atomic.Pointer[watch.Snapshot]

	spare    []reading.Reading
	lastRun  time.Time // civil end of the last run
	standing map[string]fault
	placed   time.Time // civil time of monotonic 0 by the trusted clock; zero: it is not trusted yet
	believed time.Time // by the clock as it is
	stored   stored

	news         bool // since the last look
	found        bool // since the last look, what may change findings
	nextLook     time.Duration
	nextCommit   time.Duration
	committing   trouble
	appending    trouble
	keeping      trouble
	notKept      []alarm.Alarm // alarms that the store did not take
	lostReadings int
}

func newFold(c *Config, s *session, fans []*fan, alarms *alarm.Manager) *fold {
	return &fold{
		shop: c.Shop, clk: c.Clock, log: c.Log, pace: c.pace,
		store: s.store, in: s.in, fans: fans, alarms: alarms,
		asked: make(chan func()), ended: make(chan struct{}),
		standing:   map[string]fault{},
		stored:     stored{findings: map[string]uint64{}, baseline: map[string]uint64{}},
		committing: trouble{what: "commit", log: c.Log},
		appending:  trouble{what: "taking readings into the store", log: c.Log},
		keeping:    trouble{what: "storing findings and alarms", log: c.Log},
	}
}

// run takes what comes until the context is done, and then everything that still waits.
func (f *fold) run(ctx context.Context) error {
	defer close(f.ended)
	tick := time.NewTicker(f.pace.housekeeping)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return f.finish()
		case <-f.in.wake:
			f.takeWaiting()
		case do := <-f.asked:
			f.takeWaiting()
			do()
		case <-tick.C:
			f.takeWaiting()
			f.keepHouse(f.clk.Mono())
		}
	}
}

// call runs do in the fold, after everything that came before it, and waits for it.
func (f *fold) call(ctx context.Context, do func()) error {
	done := make(chan struct{})
	select {
	case f.asked <- func() { do(); close(done) }:
	case <-f.ended:
		return errStopped
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case <-done:
		return nil
	case <-f.ended:
		return errStopped
	}
}

func (f *fold) takeWaiting() {
	b := f.in.swap(f.spare)
	f.take(b)
	f.spare = b.readings
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
	if len(b.readings) == 0 {
		return
	}
	f.news = true
	_ = f.appending.see(b.mono, f.store.Append(b.readings)) // logged there; what was taken goes on
	for i := range b.readings {
		if runs := f.watch.Reading(b.readings[i]); len(runs) > 0 {
			f.keepRuns(runs, b.readings[i].Mono)
		}
	}
	if f.out != nil {
		f.out.readings(b.readings)
	}
}

func (f *fold) keepRuns(runs []steady.Run, mono time.Duration) {
	f.found = true
	for _, r := range runs {
		if r.At.After(f.lastRun) {
			f.lastRun = r.At
		}
	}
	_ = f.appending.see(mono, f.store.AppendRuns(runs))
}

// fault passes news of a fault to the watch.
func (f *fold) fault(news fault) {
	f.news, f.found = true, true
	if news.code == "" {
		delete(f.standing, news.channel)
		f.watch.FaultCleared(news.channel, news.at)
		return
	}
	if old, ok := f.standing[news.channel]; ok {
		news.at = old.at // another code, the same trouble
	}
	f.standing[news.channel] = news
	f.watch.Fault(news.channel, news.code, news.text, news.at)
}

// keepHouse does what is due at mono.
func (f *fold) keepHouse(mono time.Duration) {
	f.place(mono)
	if mono >= f.nextLook {
		f.nextLook = mono + f.pace.snapshot
		f.look(mono)
	}
	if mono >= f.nextCommit {
		f.commit(mono)
	}
	if f.out != nil {
		f.out.tick(mono, f.snapshot.Load())
	}
}

// commit brings what has gathered to the card.
func (f *fold) commit(mono time.Duration) error {
	f.nextCommit = mono + f.pace.commitIdle
	for _, fan := range f.fans {
		if !fan.resting(mono) {
			f.nextCommit = mono + f.pace.commitBusy
		}
	}
	return f.committing.see(mono, f.store.Commit())
}

// finish takes what still waits, ends the open runs and commits.
func (f *fold) finish() error {
	f.takeWaiting()
	mono := f.clk.Mono()
	if runs := f.watch.Flush(); len(runs) > 0 {
		f.keepRuns(runs, mono)
	}
	f.news, f.found = true, true
	f.look(mono)
	if err := f.commit(mono); err != nil {
		return fmt.Errorf("last commit: %w", err)
	}
	if f.keeping.stands() {
		return errors.New("the last alarms and findings could not be stored: the log says why")
	}
	return nil
}

// entry gives an entry that is already stored to the watch. One that belongs before what the watch has seen makes it
// begin anew, so that a cleaning that is noted a day late counts from when it was done, now as after a restart.
func (f *fold) entry(ctx context.Context, e journal.Entry) {
	f.news, f.found = true, true
	if e.Time.IsZero() || !e.Time.Before(f.lastRun) {
		f.watch.Entry(e)
		return
	}
	mono := f.clk.Mono()
	if err := f.keeping.see(mono, f.rebuild(ctx)); err != nil {
		f.watch.Entry(e) // late is better than never; the next start sets it right
	}
}

// civil returns the best civil time there is for a label at mono.
func (f *fold) civil(mono time.Duration) time.Time {
	if t := f.in.civil(mono); !t.IsZero() {
		return t
	}
	return f.clk.Now()
}

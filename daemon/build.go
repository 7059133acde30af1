package daemon

import (
	"context"
	"fmt"
	"runtime/debug"
	"time"

	"ductward/internal/journal"
	"ductward/internal/reading"
)

// building is a watch that is made from what is stored, in a goroutine of its own: years of runs take a small board a
// while, and meanwhile readings come, people acknowledge and pages are shown.
type building struct {
	cancel context.CancelFunc
	done   chan built        // holds the result
	behind []reading.Reading // taken since it began; they are told to it when it is made
}

// built is a watch that has been told what was stored.
type built struct {
	*rebuilder
	watch   *followed
	resumed *ledger // of the checkpoint that it was made from; nil: from the record alone
	err     error
}

// result returns where the watch comes out; nil, on which nothing ever comes, if none is in the making.
func (b *building) result() <-chan built {
	if b == nil {
		return nil
	}
	return b.done
}

// giveUp stops the making and waits for its goroutine.
func (b *building) giveUp() {
	if b == nil {
		return
	}
	b.cancel()
	<-b.done
}

// build begins to make a watch from what is stored up to now. One that is in the making is given up.
func (f *fold) build() {
	f.building.giveUp()
	ctx, cancel := context.WithCancel(context.Background())
	b := &building{cancel: cancel, done: make(chan built, 1)}
	f.building = b
	// What is written from here on is told to the new watch when it is adopted.
	f.writing.Lock()
	entries, err := f.store.Journal()
	f.written = nil
	f.writing.Unlock()
	until := f.last
	if until.Boot == 0 { // nothing has been taken in this boot
		until.Boot, until.Mono = f.in.boot, -1
	}
	go func() {
		defer cancel()
		b.done <- f.make(ctx, entries, err, newRebuilder(f.shop, f.store, nil, until))
	}()
}

// make tells a new watch what is stored. It belongs to the goroutine of a building, and changes nothing of the fold's.
func (f *fold) make(ctx context.Context, entries []journal.Entry, err error, b *rebuilder) built {
	if err = b.readable(err); err != nil {
		return built{err: fmt.Errorf("make the watch from the record: %w", err)}
	}
	b.entries = byTime(entries)
	var from *ledger
	w, rest, unusable := b.fromCheckpoint(f.folder, b.entries)
	if unusable == nil {
		kept := w.copy()
		from, b.entries = &kept, rest
	} else if w, err = newFollowed(f.shop); err != nil {
		return built{err: err}
	} else if !none(unusable) {
		f.log.Info("the watch is made from the whole record", "because the checkpoint cannot be used", unusable)
	}
	b.watch = w
	err = b.all(ctx)
	// Months of estimates leave a multiple of what is known behind, which nobody needs until the next start.
	debug.FreeOSMemory()
	if err != nil {
		return built{err: fmt.Errorf("make the watch from the record: %w", err)}
	}
	return built{rebuilder: b, watch: w, resumed: from}
}

// adopt puts a watch that has been made in the place of the one in use.
func (f *fold) adopt(b built) error {
	behind := f.building.behind
	f.building = nil
	mono := f.clk.Mono()
	if b.err != nil {
		if f.watch != nil { // go on with the one that there is; the next start sets it right
			_ = f.keeping.see(mono, b.err)
			return nil
		}
		return b.err
	}
	if len(b.damage) > 0 {
		f.log.Error("parts of the record could not be read and are left out", "parts", len(b.damage), "first", b.damage[0])
	}
	f.watch = b.watch
	f.kept, f.nextCheckpoint = ledger{}, f.checkpointDue(mono, b.resumed)
	if b.resumed != nil {
		f.kept = *b.resumed
	}
	f.lastRun = later(f.lastRun, b.lastRun)
	if len(b.runsOut) > 0 {
		f.keepRuns(b.runsOut, mono)
	}
	f.watchReadings(behind)
	for _, x := range sortedFaults(f.standing) {
		f.watch.Fault(x.channel, x.code, x.text, x.at)
	}
	f.news, f.found = true, true
	f.takeEntries()
	f.look(mono)
	return nil
}

// takeEntries gives the entries that have been written to the watch. One that belongs before what the watch has seen
// makes it begin anew, so that a cleaning that is noted a day late counts from when it was done, now as after a restart. So does a correction.
func (f *fold) takeEntries() {
	if f.watch == nil || f.building != nil {
		return // they are told to the watch that is in the making, when it is made
	}
	f.writing.Lock()
	written := f.written
	f.written = nil
	f.writing.Unlock()
	anew := false
	for _, e := range written {
		f.news, f.found = true, true
		f.watch.Entry(e)
		anew = anew || e.Time.Before(f.lastRun) || e.Corrects > 0
	}
	if anew {
		f.build()
	}
}

// enterUntil enters what the logbook of a history holds from before a moment: into the journal, and into the watch
// where a start would tell it.
func (f *fold) enterUntil(at time.Time) {
	for len(f.logbook) > 0 && f.logbook[0].Time.Before(at) {
		e := f.logbook[0]
		f.logbook = f.logbook[1:]
		f.news, f.found = true, true
		_, err := f.store.AddJournal(e)
		_ = f.appending.see(f.clk.Mono(), err) // History ends with it
		f.watch.Entry(e)
	}
}

// addEntry writes an entry. It is durable when addEntry returns, and the watch hears of it soon.
func (f *fold) addEntry(e journal.Entry) (uint64, error) {
	if e.Time.IsZero() {
		e.Time = f.civil(f.clk.Mono())
	}
	f.writing.Lock()
	defer f.writing.Unlock()
	n, err := f.store.AddJournal(e)
	if err != nil {
		return 0, err
	}
	f.written = append(f.written, e)
	f.in.wakeUp()
	return n, nil
}

package daemon

import (
	"bufio"
	"bytes"
	"compress/flate"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/google/renameio/v2"

	"ductward/internal/journal"
)

// A checkpoint is what the watch had gathered at one moment, in a file beside the store, so that a start need not fold years
// of runs again. It is a cache: a start that cannot use it makes the watch from the record, with the same result.
//
// The file is one line of JSON (checkpointHead) and behind it, deflated, what watch.Checkpoint returns.
const checkpointFile = "watch.checkpoint"

// When a checkpoint is made, and how large one may be. A week's runs are folded again in seconds, and to write one or two
// megabytes a day would wear a card as much as a tenth of all readings.
const (
	checkpointEvery = 6 * 24 * time.Hour
	checkpointLate  = 24 * time.Hour // a fan that never rests is waited for no longer than that
	checkpointMost  = 256 << 20      // bytes, inflated
)

// checkpointHead says of what a checkpoint is, and what must still be so for it to be used.
type checkpointHead struct {
	Format string `json:"format"`
	Build  sum256 `json:"build"` // of the program: another one may gather other things
	ledger
	State sum256 `json:"state"` // of what follows, inflated
}

const checkpointFormat = "ductward checkpoint 1"

// build is the sum of the program's own file.
var build = sync.OnceValues(func() (sum256, error) {
	var d sum256
	f, err := os.Open("/proc/self/exe") // what runs, even if another program has taken its path since
	if err != nil {
		path, failed := os.Executable()
		if failed != nil {
			return d, failed
		}
		if f, err = os.Open(path); err != nil {
			return d, err
		}
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return d, err
	}
	h.Sum(d[:0])
	return d, nil
})

// checkpoint writes one where it is due. What it tells of must be in the store before.
func (f *fold) checkpoint(mono time.Duration) {
	if f.watch == nil || f.building != nil || mono < f.nextCheckpoint {
		return
	}
	if !f.resting(mono) && mono < f.nextCheckpoint+checkpointLate {
		return
	}
	f.nextCheckpoint = mono + checkpointEvery
	if f.watch.moved || f.kept.same(&f.watch.ledger) || f.commit(mono) != nil {
		return
	}
	if f.checkpointing.see(mono, writeCheckpoint(f.folder, f.watch)) == nil {
		f.kept = f.watch.copy()
	}
}

// checkpointDue returns when the next checkpoint is to be made by a watch that was made from one, or from nil.
func (f *fold) checkpointDue(mono time.Duration, from *ledger) time.Duration {
	if from == nil {
		return mono
	}
	return mono + max(checkpointEvery-f.civil(mono).Sub(from.last()), 0)
}

// writeCheckpoint puts a checkpoint of a watch in a folder, in place of the one before: whole, or not at all.
func writeCheckpoint(folder string, w *followed) error {
	state, err := w.Checkpoint()
	if err != nil {
		return err
	}
	head := checkpointHead{Format: checkpointFormat, ledger: w.ledger, State: sha256.Sum256(state)}
	if head.Build, err = build(); err != nil {
		return fmt.Errorf("read the program's own file: %w", err)
	}
	var out bytes.Buffer
	if err := json.NewEncoder(&out).Encode(head); err != nil {
		return err
	}
	packer, err := flate.NewWriter(&out, flate.BestSpeed)
	if err != nil {
		return err
	}
	_, err = packer.Write(state)
	if err = errors.Join(err, packer.Close()); err != nil {
		return err
	}
	return renameio.WriteFile(filepath.Join(folder, checkpointFile), out.Bytes(), 0o600)
}

// readCheckpoint returns the checkpoint in a folder. Its ledger is still to be held against the record.
func readCheckpoint(folder string) (checkpointHead, []byte, error) {
	var head checkpointHead
	file, err := os.Open(filepath.Join(folder, checkpointFile))
	if err != nil {
		return head, nil, err
	}
	defer file.Close()
	in := bufio.NewReader(io.LimitReader(file, checkpointMost))
	line, err := in.ReadBytes('\n')
	if err != nil {
		return head, nil, err
	}
	if err := json.Unmarshal(line, &head); err != nil {
		return head, nil, err
	}
	ours, err := build()
	switch {
	case err != nil:
		return head, nil, err
	case head.Format != checkpointFormat || head.Build != ours:
		return head, nil, errors.New("it was written by another build of the program")
	}
	state, err := io.ReadAll(io.LimitReader(flate.NewReader(in), checkpointMost))
	if err == nil && sha256.Sum256(state) != head.State {
		err = errors.New("it is damaged")
	}
	return head, state, err
}

// fromCheckpoint makes a watch from the checkpoint, and returns what of the journal it has not been told. Where there is none, or it is
// not of this record, the error says why.
func (b *rebuilder) fromCheckpoint(folder string, entries []journal.Entry) (*followed, []journal.Entry, error) {
	head, state, err := readCheckpoint(folder)
	if err != nil {
		return nil, nil, err
	}
	rest, err := b.behind(&head.ledger, entries)
	if err != nil {
		return nil, nil, err
	}
	w, err := newFollowed(b.shop)
	if err != nil {
		return nil, nil, err
	}
	if err := w.Resume(state); err != nil {
		return nil, nil, err
	}
	w.ledger = head.ledger
	for collector, m := range head.Runs {
		b.cuts[collector] = cut{boot: m.Boot, mono: m.End, at: m.At}
		b.lastRun = later(b.lastRun, m.At)
	}
	return w, rest, nil
}

// behind holds a ledger against the record, and returns the entries, by time, that it does not tell of.
func (b *rebuilder) behind(l *ledger, entries []journal.Entry) ([]journal.Entry, error) {
	if l.Entries > len(entries) || l.Runs == nil {
		return nil, errors.New("it tells of more than the record holds")
	}
	var sum sum256
	for i := range entries[:l.Entries] {
		sum = sumOf(sum, &entries[i])
	}
	rest := entries[l.Entries:]
	if sum != l.Sum || len(rest) > 0 && rest[0].Time.Before(l.last()) {
		return nil, errors.New("the logbook has other entries for its time")
	}
	for collector, m := range l.Runs {
		if err := b.has(collector, m); err != nil {
			return nil, err
		}
	}
	return rest, nil
}

// has returns an error unless the record holds a run.
func (b *rebuilder) has(collector string, m mark) error {
	for r, err := range b.store.RunsFrom(collector, m.Boot, m.End) {
		if err != nil {
			return err
		}
		if r.Boot == m.Boot && r.End == m.End && markOf(&r).Sum == m.Sum {
			return nil
		}
		break
	}
	return fmt.Errorf("the record does not hold the last run of %q that it tells of", collector)
}

// none tells whether there simply is no checkpoint, which is nothing to tell anybody.
func none(err error) bool { return errors.Is(err, fs.ErrNotExist) }

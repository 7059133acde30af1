package daemon

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/steady"
	"ductward/internal/store"
)

// stateOf returns all that a watch has gathered.
func stateOf(t *testing.T, w *followed) []byte {
	t.Helper()
	state, err := w.Checkpoint()
	require.NoError(t, err)
	return state
}

// toldUntil returns a watch that has been told what a fold's record holds from before a moment.
func toldUntil(t *testing.T, f *fold, at time.Time) *followed {
	t.Helper()
	entries, err := f.store.Journal()
	require.NoError(t, err)
	w, err := newFollowed(f.shop)
	require.NoError(t, err)
	b := newRebuilder(f.shop, f.store, w, store.Cursor{})
	b.entries = byTime(entries)
	for r, err := range f.store.Runs("main") {
		require.NoError(t, err)
		if r.At.Before(at) {
			b.run(r)
		}
	}
	return w
}

// checkpointed is a record of some runs and entries, with a checkpoint of its first two runs.
type checkpointed struct {
	store  *store.Store
	folder string
	w      *followed
	runs   []steady.Run
}

func newCheckpointed(t *testing.T) *checkpointed {
	t.Helper()
	c := &checkpointed{store: oldStore(t), folder: t.TempDir(), runs: []steady.Run{oldRun("main", 1, 0, 60), oldRun("main", 1, 60, 100),
		oldRun("finishing", 1, 0, 80), oldRun("main", 2, 0, 30)}}
	for i := range c.runs {
		c.runs[i].FanHours = 1
	}
	require.NoError(t, c.store.AppendRuns(c.runs))
	require.NoError(t, c.store.Commit())
	c.enter(t, journal.Entry{Time: monday.Add(50 * time.Minute), Kind: journal.FilterCleaned})
	c.enter(t, journal.Entry{Time: monday.Add(55 * time.Minute), Kind: journal.Alarm}) // the watch is not told
	c.enter(t, journal.Entry{Time: monday.Add(110 * time.Minute), Kind: journal.BinEmptied})
	w, err := newFollowed(twoCollectors())
	require.NoError(t, err)
	b := newRebuilder(twoCollectors(), c.store, w, everything)
	b.entries = c.entries(t)
	for r, err := range c.store.Runs("main") {
		require.NoError(t, err)
		if r.Boot == 1 {
			b.run(r)
		}
	}
	c.w = w
	require.NoError(t, writeCheckpoint(c.folder, w))
	return c
}

func (c *checkpointed) enter(t *testing.T, e journal.Entry) {
	t.Helper()
	_, err := c.store.AddJournal(e)
	require.NoError(t, err)
}

func (c *checkpointed) entries(t *testing.T) []journal.Entry {
	t.Helper()
	entries, err := c.store.Journal()
	require.NoError(t, err)
	return byTime(entries)
}

// TestACheckpointSavesTheRunsThatItTellsOf, and no others.
func TestACheckpointSavesTheRunsThatItTellsOf(t *testing.T) {
	c := newCheckpointed(t)
	require.Equal(t, 1, c.w.Entries)
	b := newRebuilder(twoCollectors(), c.store, nil, everything)
	w, rest, err := b.fromCheckpoint(c.folder, c.entries(t))
	require.NoError(t, err)
	assert.Equal(t, stateOf(t, c.w), stateOf(t, w))
	require.Len(t, rest, 1)
	assert.Equal(t, journal.BinEmptied, rest[0].Kind)
	r := &recorder{}
	b.watch, b.entries = r, rest
	require.NoError(t, b.all(t.Context()))
	assert.Equal(t, []string{"run finishing boot 1 to 1h20m0s", "entry ", "run main boot 2 to 30m0s"}, r.told)
}

// TestACheckpointThatIsNotOfTheRecordIsNotUsed, and the reason is told.
func TestACheckpointThatIsNotOfTheRecordIsNotUsed(t *testing.T) {
	path := func(c *checkpointed) string { return filepath.Join(c.folder, checkpointFile) }
	rewrite := func(t *testing.T, c *checkpointed, how func([]byte) []byte) {
		data, err := os.ReadFile(path(c))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path(c), how(data), 0o600))
	}
	for name, x := range map[string]struct {
		spoil func(t *testing.T, c *checkpointed)
		want  string
	}{
		"none": {func(t *testing.T, c *checkpointed) { require.NoError(t, os.Remove(path(c))) }, "no such file"},
		"cut off": {func(t *testing.T, c *checkpointed) {
			rewrite(t, c, func(d []byte) []byte { return d[:len(d)-9] })
		}, "unexpected EOF"},
		"empty": {func(t *testing.T, c *checkpointed) { rewrite(t, c, func([]byte) []byte { return nil }) }, "EOF"},
		"damaged": {func(t *testing.T, c *checkpointed) {
			rewrite(t, c, func(d []byte) []byte { d[len(d)-40] ^= 1; return d })
		}, ""},
		"of another format": {func(t *testing.T, c *checkpointed) {
			rewrite(t, c, func(d []byte) []byte { d[len(`{"format":"`)] = 'D'; return d })
		}, "another build"},
		"an entry of before": {func(t *testing.T, c *checkpointed) {
			c.enter(t, journal.Entry{Time: monday.Add(20 * time.Minute), Kind: journal.BinEmptied})
		}, "other entries"},
		"an entry of meanwhile": {func(t *testing.T, c *checkpointed) {
			c.enter(t, journal.Entry{Time: monday.Add(99 * time.Minute), Kind: journal.BinEmptied})
		}, "other entries"},
		"a correction": {func(t *testing.T, c *checkpointed) {
			c.enter(t, journal.Entry{Time: monday.Add(50 * time.Minute), Kind: journal.FilterReplaced, Corrects: 1})
		}, "other entries"},
		"another clock": {func(t *testing.T, c *checkpointed) {
			require.NoError(t, c.store.PlaceBoot(1, monday.Add(time.Second)))
		}, `last run of "main"`},
		"another record": {func(t *testing.T, c *checkpointed) {
			c.store = oldStore(t)
			c.enter(t, journal.Entry{Time: monday.Add(50 * time.Minute), Kind: journal.FilterCleaned})
		}, `last run of "main"`},
		"another run in its place": {func(t *testing.T, c *checkpointed) {
			c.runs[1].FanHours = 2
			require.NoError(t, c.store.AppendRuns(c.runs[1:2]))
			require.NoError(t, c.store.Commit())
		}, `last run of "main"`},
	} {
		t.Run(name, func(t *testing.T) {
			c := newCheckpointed(t)
			x.spoil(t, c)
			_, _, err := newRebuilder(twoCollectors(), c.store, nil, everything).fromCheckpoint(c.folder, c.entries(t))
			require.Error(t, err)
			assert.ErrorContains(t, err, x.want)
			assert.Equal(t, name == "none", none(err))
		})
	}
	c := newCheckpointed(t)
	other := twoCollectors()
	other.Raw = []byte("shop: Another\n")
	_, _, err := newRebuilder(other, c.store, nil, everything).fromCheckpoint(c.folder, c.entries(t))
	assert.ErrorContains(t, err, "another shop file")
}

// TestACheckpointIsMadeOnceAWeekWhileTheFanRests, and none that the record would not bear out.
func TestACheckpointIsMadeOnceAWeekWhileTheFanRests(t *testing.T) {
	l := liveFor(t, 20, false) // a working day behind us
	defer func() { require.NoError(t, l.d.Close()) }()
	f := l.d.open.fold
	path := filepath.Join(l.dir, checkpointFile)
	mono := l.clock.Mono()
	require.NotEmpty(t, f.watch.Runs)
	require.True(t, f.resting(mono))

	f.watch.moved = true
	f.checkpoint(mono)
	assert.NoFileExists(t, path, "the clock was set")

	f.watch.moved, f.nextCheckpoint = false, mono
	f.checkpoint(mono)
	first, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.Remove(path))
	f.checkpoint(mono + checkpointEvery - 1)
	assert.NoFileExists(t, path, "it is not due")
	f.checkpoint(mono + checkpointEvery)
	assert.NoFileExists(t, path, "nothing has been told since")

	f.watch.Entry(journal.Entry{Time: f.civil(mono), Kind: journal.BinEmptied})
	f.checkpoint(mono + 2*checkpointEvery)
	second, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.NotEqual(t, first, second)
	assert.Equal(t, mono, f.checkpointDue(mono, nil), "none yet")
	assert.Equal(t, mono+checkpointEvery-f.civil(mono).Sub(f.watch.last()), f.checkpointDue(mono, &f.watch.ledger), "by the age of the last")
	left, err := filepath.Glob(filepath.Join(l.dir, ".*"+checkpointFile+"*"))
	require.NoError(t, err)
	assert.Empty(t, left, "nothing half written stays")
}

// TestAClockThatIsSetBehindRunsKeepsCheckpointsAway until the next start reads their times anew.
func TestAClockThatIsSetBehindRunsKeepsCheckpointsAway(t *testing.T) {
	w, err := newFollowed(twoCollectors())
	require.NoError(t, err)
	w.Run(oldRun("main", 3, 0, 60))
	w.clockSet(4)
	assert.False(t, w.moved, "of a boot of which nothing has been told")
	w.clockSet(3)
	assert.True(t, w.moved)
}

package watch_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/checkpoint"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// The hunt of the demo's record is short: after each of its runs the next tests are ranked, which is most of the work.
var (
	huntFrom = start.AddDate(0, 0, leakDay).Add(10 * time.Hour)
	huntTo   = huntFrom.Add(45 * time.Minute)
)

// logbook is what is entered while the demo is recorded: a cleaning and a hunt.
func logbook() []journal.Entry {
	return []journal.Entry{
		{Time: start.AddDate(0, 0, 5), Kind: journal.FilterCleaned, Note: "shaken"},
		{Time: huntFrom, Kind: journal.LeakHunt},
		{Time: huntTo, Kind: journal.LeakHuntEnded},
	}
}

func checkpointOf(t testing.TB, w *watch.Watch) []byte {
	t.Helper()
	data, err := w.Checkpoint()
	require.NoError(t, err)
	return data
}

// resumed returns a watch that goes on from a checkpoint.
func resumed(t testing.TB, s *shop.Shop, data []byte) *watch.Watch {
	t.Helper()
	w := newWatch(t, s)
	require.NoError(t, w.Resume(data))
	return w
}

// TestAWatchGoesOnFromACheckpoint as if it had been told everything, to the last byte, wherever it was cut, and several
// times over. One watch is told the readings, the other the runs that they gave, as a start is. Looking at them, and what their
// sources tell meanwhile, leave no trace.
func TestAWatchGoesOnFromACheckpoint(t *testing.T) {
	live, cut := newWatch(t, load(t, demoPath)), newWatch(t, load(t, demoPath))
	entries, rs := logbook(), record(t)
	midHunt := slices.IndexFunc(rs, func(r reading.Reading) bool { return r.Time.After(huntTo.Add(-5 * time.Minute)) })
	for i, r := range rs {
		for len(entries) > 0 && !r.Time.Before(entries[0].Time) {
			live.Entry(entries[0])
			cut.Entry(entries[0])
			entries = entries[1:]
		}
		for _, run := range live.Reading(r) {
			cut.Run(run)
		}
		if i%(len(rs)/7) != 0 && i != midHunt {
			continue
		}
		if i == midHunt {
			assert.True(t, only(t, live.Snapshot()).Hunting)
		}
		data := checkpointOf(t, live)
		assert.Equal(t, data, checkpointOf(t, cut), "after %d readings", i)
		cut = resumed(t, load(t, demoPath), data)
		a, b := only(t, live.Snapshot()), only(t, cut.Snapshot())
		assert.Equal(t, flat(a.Findings), flat(b.Findings), "after %d readings", i)
		assert.Equal(t, flat(a.Days), flat(b.Days), "after %d readings", i)
		cut.Fault("main/trunk static", "not-answering", "no answer on the bus", r.Time)
		cut.FaultCleared("main/trunk static", r.Time)
		assert.Equal(t, data, checkpointOf(t, cut), "put back and looked at, after %d readings", i)
	}
	for _, run := range live.Flush() {
		cut.Run(run)
	}
	cut.Flush()
	assert.Equal(t, checkpointOf(t, live), checkpointOf(t, cut))
	assert.NotEmpty(t, only(t, cut.Snapshot()).Findings)
}

// TestACheckpointOfAnotherShopIsRefused, and that of every kind of shop is taken.
func TestACheckpointOfAnotherShopIsRefused(t *testing.T) {
	demo := newWatch(t, load(t, demoPath))
	for _, r := range whole().runs[:50] {
		demo.Run(r)
	}
	data := checkpointOf(t, demo)
	for _, path := range shopFiles(t) {
		s := load(t, path)
		w := newWatch(t, s)
		assert.Equal(t, checkpointOf(t, w), checkpointOf(t, resumed(t, s, checkpointOf(t, w))), path)
		if path != demoPath {
			assert.ErrorIs(t, newWatch(t, s).Resume(data), checkpoint.ErrDamaged, path)
		}
	}
	for _, broken := range [][]byte{nil, data[:len(data)/2], append(data[:len(data):len(data)], 0)} {
		assert.ErrorIs(t, newWatch(t, load(t, demoPath)).Resume(broken), checkpoint.ErrDamaged)
	}
}

package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/outbox"
	"ductward/internal/steady"
	"ductward/internal/store"
)

// full is a store with something of every kind in it, and what it holds by the store's own count.
func full(t *testing.T) (dir string, held store.Tally) {
	t.Helper()
	dir = imported(t)
	st, err := store.Open(dir, store.Options{})
	require.NoError(t, err)
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	for _, e := range []journal.Entry{{Time: at, Kind: journal.FilterCleaned, Subject: "main", Note: "shaken, \"twice\"\nand by hand", By: "Ada"},
		{Time: at.Add(time.Hour), Kind: journal.Check, Result: "ok", By: "Ada"},
		{Time: at.Add(2 * time.Hour), Kind: journal.Gap, Note: "No reading of any sensor.", By: "ductward"}} {
		_, err := st.AddJournal(e)
		require.NoError(t, err)
	}
	require.NoError(t, st.PutFindings("main", []finding.Finding{{ID: "f1", Collector: "main", Kind: finding.NewLeak, Raised: at, Size: 0.002}}))
	a := alarm.Alarm{ID: "f1", Cause: "main/new-leak/", Raised: at, State: alarm.ActiveUnacknowledged}
	require.NoError(t, st.PutAlarms([]alarm.Alarm{a}))
	require.NoError(t, st.PutBaseline("main", 1, []byte(`{"Version":1,"GateSets":9}`)))
	require.NoError(t, st.PutItems([]outbox.Item{{Number: 1, Target: "mail", State: outbox.Delivered, Letter: outbox.Letter{ID: "f1.1.raised", Alarm: &a}}}))
	require.NoError(t, st.AppendRuns([]steady.Run{{Collector: "main", Boot: 1, Start: time.Second, End: time.Minute, Open: []string{"saw gate"}}}))
	require.NoError(t, st.Seal())
	held, err = st.Backup(io.Discard)
	require.NoError(t, err)
	require.NoError(t, st.Close())
	return dir, held
}

// linesOf counts the objects of a file of JSON lines, each of which must be one.
func linesOf(t *testing.T, file string) (n int64) {
	t.Helper()
	raw, err := os.ReadFile(file)
	require.NoError(t, err)
	for d := json.NewDecoder(bytes.NewReader(raw)); ; n++ {
		var v map[string]any
		if err := d.Decode(&v); err == io.EOF {
			return n
		}
		require.NoError(t, err)
	}
}

// Nothing is left in the store that did not leave it: bucket by bucket, by the store's own count.
func TestEverythingLeavesTheStore(t *testing.T) {
	dir, held := full(t)
	to := filepath.Join(t.TempDir(), "all")
	got := call(t, "export", "--data", dir, "--all", to)
	require.Equal(t, exitFine, got.code, got.errOut)
	files := map[string]string{"channels": "channels.jsonl", "shops": "shops.jsonl", "damaged": "damaged.jsonl", "meta": "meta.jsonl"}
	for _, f := range recordFiles {
		files[f.bucket] = f.file
	}
	tables := map[string]string{"minutes": "minutes.csv", "hours": "hours.csv", "days": "days.csv"}
	for bucket, keys := range held.Keys {
		switch {
		case files[bucket] != "":
			assert.Equal(t, keys, linesOf(t, filepath.Join(to, files[bucket])), bucket)
			if bucket != "damaged" {
				assert.Positive(t, keys, "%s: the test has something of every kind", bucket)
			}
		case tables[bucket] != "":
			raw, err := os.ReadFile(filepath.Join(to, tables[bucket]))
			require.NoError(t, err)
			assert.Len(t, rowsOf(string(raw)), 4, "%s: three of the five readings are numbers of channels of their own", bucket)
		case bucket == "blocks" || bucket == "open":
		default:
			assert.Fail(t, "no file for what the store keeps in "+bucket)
		}
	}
	raw, err := os.ReadFile(filepath.Join(to, "readings.csv"))
	require.NoError(t, err)
	assert.Len(t, rowsOf(string(raw)), int(held.Readings)+1)
	raw, err = os.ReadFile(filepath.Join(to, "baselines.jsonl"))
	require.NoError(t, err)
	assert.JSONEq(t, `{"collector":"main","number":1,"record":{"Version":1,"GateSets":9}}`, string(raw))
	readme, err := os.ReadFile(filepath.Join(to, "README.md"))
	require.NoError(t, err)
	list, err := os.ReadDir(to)
	require.NoError(t, err)
	for _, f := range list {
		if name := f.Name(); !strings.HasPrefix(name, "shop-") && name != "README.md" {
			assert.Contains(t, string(readme), "`"+name+"`", "its shape is told")
		}
	}
	again := call(t, "export", "--data", dir, "--all", to)
	assert.Equal(t, exitUse, again.code)
	assert.Contains(t, again.errOut, "not empty")
}

// What import takes comes back as it left: readings with their place, the logbook and the shop file.
func TestWhatLeftCanComeBack(t *testing.T) {
	dir, _ := full(t)
	first, second := filepath.Join(t.TempDir(), "first"), filepath.Join(t.TempDir(), "second")
	require.Equal(t, exitFine, call(t, "export", "--data", dir, "--all", first).code)
	in := func(name string) string { return filepath.Join(first, name) }
	back := filepath.Join(t.TempDir(), "back")
	got := call(t, "import", in("shop-0001.yaml"), in("readings.csv"), "--journal", in("logbook.csv"), "--data", back)
	require.Equal(t, exitFine, got.code, got.errOut)
	require.Equal(t, exitFine, call(t, "export", "--data", back, "--all", second).code)
	for _, name := range []string{"readings.csv", "logbook.csv", "journal.jsonl", "shop-0001.yaml", "channels.jsonl", "boots.jsonl"} {
		was, err := os.ReadFile(in(name))
		require.NoError(t, err)
		is, err := os.ReadFile(filepath.Join(second, name))
		require.NoError(t, err)
		assert.Equal(t, string(was), string(is), name)
	}
}

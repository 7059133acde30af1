package daemon

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/store"
)

// shortDir is a folder whose name leaves room for that of a socket, of which the kernel takes 107 bytes.
func shortDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "dw")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// A running daemon hands out a copy with all that it has read, and its store is nobody else's meanwhile.
func TestCopyOfARunningDaemon(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	cfg.DataDir = shortDir(t)
	r := start(t, cfg)
	eventually(t, "the socket, which is made after the dashboard is listened on", func() bool {
		_, err := os.Stat(filepath.Join(cfg.DataDir, socketName))
		return err == nil
	})
	_, err := r.d.open.fold.addEntry(journal.Entry{Kind: journal.Check, Note: "before the copy"})
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), store.FileName)
	told, err := store.BackupTo(path, false, func(w io.Writer) (store.Tally, error) { return CopyOf(t.Context(), cfg.DataDir, w) })
	require.NoError(t, err)
	assert.EqualValues(t, 1, told.Journal())
	info, err := os.Stat(filepath.Join(cfg.DataDir, socketName))
	require.NoError(t, err)
	assert.EqualValues(t, 0o600, info.Mode().Perm(), "for its owner alone")

	second, err := New(Config{Shop: smallShop(), DataDir: cfg.DataDir, Clock: newFastClock(monday), Log: quiet()})
	require.NoError(t, err)
	require.ErrorIs(t, second.Run(t.Context()), store.ErrInUse, "one writer")
	_, err = store.Restore(t.Context(), path, cfg.DataDir, true)
	require.ErrorIs(t, err, store.ErrInUse)
	require.NoError(t, r.end())

	assert.NoFileExists(t, filepath.Join(cfg.DataDir, socketName))
	var closed bytes.Buffer
	after, err := CopyOf(t.Context(), cfg.DataDir, &closed)
	require.NoError(t, err, "from the file itself, when nobody runs")
	assert.GreaterOrEqual(t, after.Readings, told.Readings)
	restored := t.TempDir()
	_, err = store.Restore(t.Context(), path, restored, false)
	require.NoError(t, err)
	entries, err := reopened(t, restored).Journal()
	require.NoError(t, err)
	assert.Equal(t, "before the copy", entries[0].Note)
}

// A copy that breaks off is an error, and so is one that does not say what it holds, or a store that is in use with
// nobody to ask.
func TestACopyThatBreaksOff(t *testing.T) {
	dir := shortDir(t)
	s, err := store.Open(dir, store.Options{})
	require.NoError(t, err)
	_, err = CopyOf(t.Context(), dir, io.Discard)
	require.ErrorIs(t, err, store.ErrInUse)
	require.ErrorContains(t, err, "no daemon answers at "+filepath.Join(dir, socketName))
	require.NoError(t, s.Close())

	for answer, want := range map[string]string{
		"HTTP/1.1 500 Internal Server Error\r\n\r\n":                         "it answers 500",
		"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n4\r\nbolt\r\n": "unexpected EOF",
		"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n":     "does not say what it holds",
		"coffee\r\n\r\n": "ask the running daemon",
	} {
		l, err := net.Listen("unix", filepath.Join(dir, socketName))
		require.NoError(t, err)
		served := make(chan error, 1)
		go func() {
			conn, err := l.Accept()
			if err == nil {
				_, _ = conn.Read(make([]byte, 4096))
				_, err = io.WriteString(conn, answer)
				_ = conn.Close()
			}
			served <- err
		}()
		_, err = CopyOf(t.Context(), dir, io.Discard)
		require.ErrorContains(t, err, want)
		require.NoError(t, <-served)
		require.NoError(t, l.Close())
	}
}

// What is left of a daemon that was killed is in nobody's way.
func TestASocketThatWasLeftIsReplaced(t *testing.T) {
	dir := shortDir(t)
	require.NoError(t, os.WriteFile(filepath.Join(dir, socketName), nil, 0o600))
	c, err := newCopies(dir, nil, quiet())
	require.NoError(t, err)
	require.NoError(t, c.listener.Close())
	_, err = newCopies(filepath.Join(dir, "missing"), nil, quiet())
	require.Error(t, err)
}

// A store that is damaged beyond opening is set aside at the start; the logbook says so for good, and an alarm does.
func TestADamagedStoreIsToldInTheLogbookAndAsAnAlarm(t *testing.T) {
	b := newBoard()
	cfg := smallConfig(t, b)
	path := filepath.Join(cfg.DataDir, store.FileName)
	require.NoError(t, os.MkdirAll(cfg.DataDir, 0o755))
	require.NoError(t, os.WriteFile(path, bytes.Repeat([]byte("coffee"), 5000), 0o644))
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "the alarm", func() bool { return seen.states("/record-damaged/")[alarm.ActiveUnacknowledged] == 1 })
	require.NoError(t, r.end())
	entries, err := reopened(t, cfg.DataDir).Journal()
	require.NoError(t, err)
	require.Len(t, entries, 2, "and the alarm about it")
	assert.Equal(t, journal.Alarm, entries[1].Kind)
	assert.Equal(t, byItself, entries[0].By)
	assert.Contains(t, entries[0].Note, "it was set aside as "+path+".damaged-")
	assert.WithinDuration(t, monday, entries[0].Time, time.Hour)
}

// fileSpy is a store whose file is as the test says.
type fileSpy struct {
	keeper
	space     store.Space
	damage    error
	compacted chan struct{}
	repaired  chan error
}

func (f *fileSpy) Prune(time.Time) (int, error) { return 0, nil }
func (f *fileSpy) Space() (store.Space, error)  { return f.space, nil }
func (f *fileSpy) Damage() error                { return f.damage }
func (f *fileSpy) Compact(context.Context) error {
	f.compacted <- struct{}{}
	f.space = store.Space{Size: 20 << 20, Limit: 24 << 20}
	return nil
}

func (f *fileSpy) Repair(damage error) (store.Notice, error) {
	f.repaired <- damage
	f.damage = nil
	return store.Notice{Text: "repaired", SetAside: "there", Damaged: true}, nil
}

// Upkeep repairs within a minute, writes the file anew when half of it lies free, and says so when it nears the limit.
func TestUpkeepLooksAfterTheFile(t *testing.T) {
	log := &lines{}
	f := &fileSpy{space: store.Space{Size: 100 << 20, Free: 60 << 20, Limit: 24 << 20}, damage: assert.AnError,
		compacted: make(chan struct{}), repaired: make(chan error)}
	clk := clock.NewVirtual(monday)
	told := make(chan store.Notice, 1)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() {
		ended <- newUpkeep(f, clk, slog.New(slog.NewTextHandler(log, nil)), func(n store.Notice) { told <- n }).run(ctx)
	}()
	require.Equal(t, assert.AnError, <-f.repaired)
	assert.Equal(t, "repaired", (<-told).Text)
	<-f.compacted
	eventually(t, "the warning", func() bool { return strings.Contains(log.String(), "nears what a board of 32 bits can use") })
	stop()
	require.NoError(t, <-ended)
	assert.Contains(t, log.String(), "the store was written anew")
}

// What the file's limit refuses has another remedy than a full card.
func TestTheRemedyAtTheLimit(t *testing.T) {
	f := &fold{}
	f.committing.last = store.ErrLimit
	remedy := func() string { return diagnosis.Of(finding.RecordFailing).Action(f.failingRemedy()) }
	assert.Contains(t, remedy(), "Keep raw readings for a shorter time. Do not switch the board off")
	f.committing.last = errDiskFull
	assert.Contains(t, remedy(), "Make room on the disk")
}

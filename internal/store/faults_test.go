package store

import (
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/steady"
)

// alone runs the test that calls it in a process of its own, and tells in that process that it is there: a limit on the
// size of files would hold for what "go test" itself writes as well.
func alone(t *testing.T) (here bool) {
	t.Helper()
	const mark = "DUCTWARD_TEST_ALONE"
	if os.Getenv(mark) == t.Name() {
		return true
	}
	cmd := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v")
	cmd.Env = append(os.Environ(), mark+"="+t.Name())
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.Contains(t, string(out), "--- PASS: "+t.Name())
	return false
}

// limitFiles lets no file of this process grow beyond size until the returned function is called: a write beyond it
// fails, as it does on a card that is full, on every machine and for every user.
func limitFiles(t *testing.T, size int64) (lift func()) {
	t.Helper()
	signal.Ignore(syscall.SIGXFSZ)
	var was syscall.Rlimit
	require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was))
	set := func(l syscall.Rlimit) { require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &l)) }
	set(syscall.Rlimit{Cur: uint64(size), Max: was.Max})
	lifted := false
	lift = func() {
		if !lifted {
			lifted = true
			set(was)
		}
	}
	t.Cleanup(lift)
	return lift
}

// A card that is full for a while costs nothing that memory has room for; what memory has no room for is refused by
// name. The file stays sound throughout, and so does the journal, whose entry was refused.
func TestAFullCardLosesNothingWithinTheBound(t *testing.T) {
	if !alone(t) {
		return
	}
	dir := t.TempDir()
	s := open(t, dir, Options{MaxOpen: 3000})
	boot := newBoot(t, s, noon)
	var want = seconds(boot, 0, 400)
	require.NoError(t, s.Append(want))
	require.NoError(t, s.Commit())
	size, err := s.Size()
	require.NoError(t, err)

	lift := limitFiles(t, size)
	failed := 0
	for from := 400; len(want)+200 <= 2*3000; from += 100 {
		rs := seconds(boot, from, from+100)
		_ = s.Append(rs) // it may say that it cannot write, and takes them all the same
		want = append(want, rs...)
		if s.Commit() != nil {
			failed++
		}
	}
	require.Positive(t, failed, "the card was full")
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other, Note: string(make([]byte, 1<<20))})
	require.Error(t, err)
	requireSound(t, s)
	requireSame(t, want, all(t, s, ReadQuery{}), noon)

	// Beyond the bound, readings are refused, and said to be.
	rs := seconds(boot, 3000, 9000)
	require.ErrorIs(t, s.Append(rs), ErrFull)
	kept := all(t, s, ReadQuery{})
	require.Less(t, len(kept), len(want)+len(rs))

	lift()
	require.NoError(t, s.Commit())
	requireSound(t, s)
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other, Note: "room again"})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireSound(t, s)
	requireSame(t, kept, all(t, s, ReadQuery{}), noon)
	entries, err := s.Journal()
	require.NoError(t, err)
	require.Len(t, entries, 1, "the refused entry is not there")
}

// A file that can no longer be written, as on a card that has been made read-only after an error, costs nothing either.
// The descriptor is exchanged beneath bbolt for one that reads only.
func TestACardThatBecomesReadOnly(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	boot := newBoot(t, s, noon)
	want := seconds(boot, 0, 300)
	require.NoError(t, s.Append(want[:200]))
	require.NoError(t, s.Commit())

	fd := descriptorOf(t, s.Path())
	writable, err := syscall.Dup(fd)
	require.NoError(t, err)
	reads, err := os.Open(s.Path())
	require.NoError(t, err)
	require.NoError(t, syscall.Dup3(int(reads.Fd()), fd, syscall.O_CLOEXEC))
	require.NoError(t, reads.Close())
	require.NoError(t, s.Append(want[200:]))
	for range 3 {
		require.ErrorContains(t, s.Commit(), "bad file descriptor")
	}
	require.Error(t, s.PlaceBoot(boot, noon))
	requireSame(t, want, all(t, s, ReadQuery{}), noon)

	require.NoError(t, syscall.Dup3(writable, fd, syscall.O_CLOEXEC))
	require.NoError(t, syscall.Close(writable))
	require.NoError(t, s.Commit())
	requireSound(t, s)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireSound(t, s)
	requireSame(t, want, all(t, s, ReadQuery{}), noon)
}

// descriptorOf finds the open descriptor of a file of this process.
func descriptorOf(t *testing.T, path string) int {
	t.Helper()
	var want, got syscall.Stat_t
	require.NoError(t, syscall.Stat(path, &want))
	for fd := range 256 {
		if syscall.Fstat(fd, &got) == nil && got.Dev == want.Dev && got.Ino == want.Ino {
			return fd
		}
	}
	require.Fail(t, "the file is not open", path)
	return -1
}

// What is promised is only ever suspended by Bulk: every commit waits for the card.
func TestEveryCommitWaitsForTheCard(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	require.False(t, s.db.NoSync)
	require.False(t, s.db.NoGrowSync)
	require.NoError(t, s.Bulk(true))
	require.NoError(t, s.Bulk(false))
	require.False(t, s.db.NoSync)
}

// A new file's name is brought to the card, and where that cannot be done the error says so.
func TestTheNameOfANewFileIsBroughtToTheCard(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, syncFolder(filepath.Join(dir, FileName)))
	require.ErrorContains(t, syncFolder(filepath.Join(dir, "gone", FileName)), "bring the names in "+filepath.Join(dir, "gone"))
}

// Runs that cannot be committed wait within a bound of their own; while the card takes them, there may be any number.
func TestRunsWaitWithinABound(t *testing.T) {
	if !alone(t) {
		return
	}
	s := open(t, t.TempDir(), Options{})
	newBoot(t, s, noon)
	n := 0
	add := func(count int) error {
		runs := make([]steady.Run, count)
		for i := range runs {
			n++
			runs[i] = steady.Run{Collector: "north", Boot: 1, End: time.Duration(n)}
		}
		return s.AppendRuns(runs)
	}
	for range 2 {
		require.NoError(t, add(fullRuns))
	}
	require.Empty(t, s.runs)
	lift := limitFiles(t, 1)
	for range mostRuns / fullRuns {
		require.ErrorContains(t, add(fullRuns), "too large")
	}
	require.ErrorIs(t, add(1), ErrFull)
	lift()
	require.NoError(t, s.Commit())
	require.NoError(t, add(1))
	kept := 0
	for _, err := range s.Runs("north") {
		if err != nil {
			require.NoError(t, err)
		}
		kept++
	}
	require.Equal(t, n-1, kept, "all but the one that was refused")
	requireSound(t, s)
}

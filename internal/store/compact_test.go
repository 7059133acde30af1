package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"ductward/internal/journal"
	"ductward/internal/outbox"
	"ductward/internal/reading"
	"ductward/internal/steady"
)

// mostlyFree makes a store of which most lies free: a month of which all but the last days has been let go.
func mostlyFree(t *testing.T, dir string) (s *Store, boot uint32, second int) {
	t.Helper()
	s = open(t, dir, Options{KeepRaw: 2 * day, KeepMinutes: 3 * day})
	boot = newBoot(t, s, noon)
	require.NoError(t, s.Bulk(true))
	w := newWorkload(5)
	const days = 30
	for ; second < days*86400; second += 60 {
		require.NoError(t, s.Append(w.at(boot, second)))
	}
	require.NoError(t, s.Seal())
	require.NoError(t, s.Bulk(false))
	deleted, err := s.Prune(noon.Add(days * day))
	require.NoError(t, err)
	require.Positive(t, deleted)
	return s, boot, second
}

// Compaction makes the file as small as what it holds, while a writer commits and a reader reads, and loses nothing of
// what either was promised.
func TestCompactWhileReadingsAreWritten(t *testing.T) {
	dir := t.TempDir()
	s, boot, second := mostlyFree(t, dir)
	s.patience = 5 * time.Minute // the writer never rests, and the machine may be busy
	before, err := s.Space()
	require.NoError(t, err)
	old := all(t, s, ReadQuery{})
	require.NoError(t, s.Compact(t.Context()))
	after, err := s.Space()
	require.NoError(t, err)
	assert.Less(t, after.Size, before.Size/2, "%+v", before)
	assert.Less(t, after.Free, after.Size/4)

	stop, written, ended := make(chan struct{}), 0, make(chan error)
	go func() {
		w := newWorkload(6)
		w.seq = 1 << 40
		for ; ; written++ {
			select {
			case <-stop:
				ended <- nil
				return
			default:
			}
			_, err := s.AddJournal(journal.Entry{Kind: journal.Other, Note: strconv.Itoa(written)})
			if err = errors.Join(err, s.Append(w.at(boot, second+written)), s.Commit()); err != nil {
				ended <- err
				return
			}
		}
	}()
	for range 3 {
		require.NoError(t, s.Compact(t.Context()))
	}
	close(stop)
	require.NoError(t, <-ended)

	check := func(s *Store) {
		requireSound(t, s)
		assert.Len(t, all(t, s, ReadQuery{}), len(old)+16*written)
		js, err := s.Journal()
		require.NoError(t, err)
		assert.Len(t, js, written)
	}
	require.NoError(t, s.Commit())
	check(s)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	assert.Empty(t, s.Notices())
	check(s)
}

// Whatever is done to the file between two states, catching up makes the one into the other.
func TestCatchUp(t *testing.T) {
	const seed = 20260304
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	s := open(t, t.TempDir(), Options{KeepRaw: day})
	boot := newBoot(t, s, noon)
	second := 0
	something := func() {
		switch rng.IntN(6) {
		case 0:
			require.NoError(t, s.Seal())
		case 1:
			_, err := s.AddJournal(journal.Entry{Kind: journal.Check, Note: fmt.Sprint(rng.Uint64())})
			require.NoError(t, err)
		case 2:
			require.NoError(t, s.AppendRuns([]steady.Run{{Collector: "north", Boot: boot, End: time.Duration(rng.IntN(50)), FanHours: rng.Float64()}}))
		case 3:
			_, err := s.Prune(noon.Add(time.Duration(second) * time.Second))
			require.NoError(t, err)
		case 4:
			require.NoError(t, s.PlaceBoot(boot, noon.Add(time.Duration(rng.IntN(9))*time.Hour)))
		default:
			n := rng.IntN(30_000)
			require.NoError(t, s.Append(seconds(boot, second, second+n)))
			second += n
		}
		require.NoError(t, s.Commit())
	}
	for range 10 {
		something()
	}
	w, err := newRewriter(s.path, s.bounds)
	require.NoError(t, err)
	t.Cleanup(w.drop)
	from, err := s.begin()
	require.NoError(t, err)
	require.NoError(t, w.copyAll(t.Context(), from))
	for range 25 {
		for range rng.IntN(4) {
			something()
		}
		now, err := s.begin()
		require.NoError(t, err)
		require.NoError(t, w.catchUp(t.Context(), from, now))
		require.NoError(t, w.commit())
		require.NoError(t, w.verify(now))
		require.NoError(t, from.Rollback())
		from = now
		require.Equal(t, dump(t, s), dump(t, &Store{db: w.db}))
	}
	require.NoError(t, from.Rollback())
}

// The outbox is there from the first letter on, which may be put while the file is written anew.
func TestCatchUpWithTheFirstLetter(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	newBoot(t, s, noon)
	w, err := newRewriter(s.path, s.bounds)
	require.NoError(t, err)
	t.Cleanup(w.drop)
	from, err := s.begin()
	require.NoError(t, err)
	defer func() { _ = from.Rollback() }() // or closing would wait for it
	require.NoError(t, w.copyAll(t.Context(), from))
	require.NoError(t, s.PutItems([]outbox.Item{{Number: 1, Target: "mail"}, {Number: 2, Target: "mail"}}))
	now, err := s.begin()
	require.NoError(t, err)
	defer func() { _ = now.Rollback() }()
	require.NoError(t, w.catchUp(t.Context(), from, now))
	require.NoError(t, w.commit())
	require.NoError(t, w.verify(now))
	require.Equal(t, dump(t, s), dump(t, &Store{db: w.db}))
}

// A compaction that cannot be finished leaves the old file in use and nothing beside it.
func TestCompactionThatFailsChangesNothing(t *testing.T) {
	if !alone(t) {
		return
	}
	dir := t.TempDir()
	s, boot, second := mostlyFree(t, dir)
	want := dump(t, s)
	lift := limitFiles(t, 1<<16)
	require.ErrorContains(t, s.Compact(t.Context()), "too large", "the card is full")
	lift()
	require.NoError(t, os.MkdirAll(newName(s.path)+"/in the way", 0o755))
	require.ErrorContains(t, s.Compact(t.Context()), "make a new file")
	require.NoError(t, os.RemoveAll(newName(s.path)))
	require.NoError(t, s.Bulk(true))
	require.ErrorContains(t, s.Compact(t.Context()), "in bulk")
	require.NoError(t, s.Bulk(false))
	assert.NoFileExists(t, newName(s.path))
	assert.Equal(t, want, dump(t, s))
	require.NoError(t, s.Append(seconds(boot, second, second+10)))
	require.NoError(t, s.Commit())
	requireSound(t, s)

	// One that waits for a reader's state for which the file cannot be written gives up instead of waiting for ever.
	s.patience = 0
	s.write.Lock()
	given := make(chan error)
	go func() { given <- s.Compact(t.Context()) }()
	require.ErrorContains(t, <-given, "something else is writing and does not end")
	s.write.Unlock()
	s.patience = turnPatience
	require.NoError(t, s.Compact(t.Context()))
	require.NoError(t, s.Close())
	require.ErrorContains(t, s.Compact(t.Context()), "database not open")
}

func TestWhenCompactionIsWorthIt(t *testing.T) {
	for want, spaces := range map[bool][]Space{
		true:  {{Size: 64 << 20, Free: 33 << 20}, {Size: 1 << 30, Free: 900 << 20}},
		false: {{}, {Size: 8 << 20, Free: 7 << 20}, {Size: 1 << 30, Free: 300 << 20}},
	} {
		for _, p := range spaces {
			assert.Equal(t, want, p.WorthCompacting(), "%+v", p)
		}
	}
}

// compactorFolder is the variable that makes the test binary a writer that compacts all the time.
const compactorFolder = "STORE_TEST_COMPACTOR"

// compactUntilKilled continues the record in dir, exchanges its file again and again, and says what is acknowledged.
func compactUntilKilled(dir string) int {
	s, err := Open(dir, Options{})
	if err != nil {
		fmt.Println("error", err)
		return 1
	}
	next := 0
	for _, r := range s.Latest() {
		next = max(next, int(r.Seq)+1)
	}
	if len(s.Boots()) == 0 {
		if _, err := s.NewBoot(); err != nil {
			return 1
		}
	}
	go func() {
		for {
			if err := s.Compact(context.Background()); err != nil {
				fmt.Println("error", err)
			}
		}
	}()
	for ; ; next++ {
		if err := errors.Join(s.Append([]reading.Reading{written(1, next)}), s.Commit()); err != nil {
			fmt.Println("error", err)
			return 1
		}
		fmt.Println(next + 1)
	}
}

// A process that is killed at any moment of a compaction has lost nothing that was acknowledged.
func TestKilledWhileCompacting(t *testing.T) {
	const seed, kills = 20260305, 30
	t.Logf("seed %d, %d kills", seed, kills)
	rng := rand.New(rand.NewPCG(seed, 1))
	dir := t.TempDir()
	for range kills {
		kept := runCompactor(t, dir, time.Duration(rng.IntN(40))*time.Millisecond)
		s := open(t, dir, Options{})
		requireSound(t, s)
		require.Empty(t, s.Notices())
		got := all(t, s, ReadQuery{})
		require.GreaterOrEqual(t, len(got), kept)
		for i, r := range got {
			require.Equal(t, fmt.Sprintf("%+v", written(1, i)), fmt.Sprintf("%+v", r))
		}
		require.NoFileExists(t, newName(s.path))
		require.NoError(t, s.Close())
	}
}

func runCompactor(t *testing.T, dir string, d time.Duration) (kept int) {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run=none")
	cmd.Env = append(os.Environ(), compactorFolder+"="+dir)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(out)
	for started := false; lines.Scan(); started = true {
		if !started {
			defer time.AfterFunc(d, func() { _ = cmd.Process.Kill() }).Stop()
		}
		kept, err = strconv.Atoi(lines.Text())
		require.NoError(t, err, lines.Text())
	}
	_ = cmd.Wait() // it was killed, and says so
	return kept
}

// The name of a file that has taken the store's place must be on the card before anything is acknowledged in it.
func TestNothingIsAcknowledgedUnderANameThatMayBeLost(t *testing.T) {
	dir := t.TempDir() + "/data"
	s := open(t, dir, Options{})
	newBoot(t, s, noon)
	s.named = false
	require.NoError(t, os.Rename(dir, dir+"-away"))
	_, err := s.AddJournal(journal.Entry{Kind: journal.Other})
	require.ErrorContains(t, err, "bring the names in")
	require.NoError(t, os.Rename(dir+"-away", dir))
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other})
	require.NoError(t, err)
	require.True(t, s.named)
	require.NoError(t, s.db.View(func(tx *bolt.Tx) error {
		assert.Equal(t, 1, tx.Bucket(bucketJournal).Stats().KeyN)
		return nil
	}))
}

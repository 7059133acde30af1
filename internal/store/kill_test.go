package store

import (
	"bufio"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
)

// killsWanted is the variable that says how often the writer is killed; without it, often enough to notice a mistake.
const killsWanted = "STORE_TEST_KILLS"

func killCount(t *testing.T) int {
	if s := os.Getenv(killsWanted); s != "" {
		n, err := strconv.Atoi(s)
		require.NoError(t, err, killsWanted)
		return n
	}
	if testing.Short() {
		return 5
	}
	return 60
}

// A writer that is killed at any moment, while it makes and opens the file too, loses nothing that it was told is kept,
// and leaves nothing that it did not write.
func TestKilledWriterLosesNothingAcknowledged(t *testing.T) {
	const seed, perFile = 20260301, 20 // a file is begun anew now and then, so that its making is interrupted as well
	kills := killCount(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	var dir string
	var done ack
	var acknowledged, early int
	for i := range kills {
		if i%perFile == 0 {
			dir, done = filepath.Join(t.TempDir(), strconv.Itoa(i)), ack{}
		}
		before := done
		// A third of the kills falls while the file is opened or made.
		wait := time.Duration(rng.IntN(60_000)) * time.Microsecond
		if rng.IntN(3) == 0 {
			wait = time.Duration(rng.IntN(8_000)) * time.Microsecond
		}
		runAndKill(t, dir, wait, &done)
		if before == done {
			early++
		}
		acknowledged += done.Readings - before.Readings
		done = requireKept(t, dir, done)
	}
	t.Logf("seed %d: %d kills (%d before anything was acknowledged), %d readings acknowledged and none lost or invented", seed,
		kills, early, acknowledged)
}

// runAndKill starts a writer, kills it some time after it began to open the file, and notes what it acknowledged.
func runAndKill(t *testing.T, dir string, wait time.Duration, done *ack) {
	cmd := exec.Command(os.Args[0], "-test.run=none")
	cmd.Env = append(os.Environ(), writerFolder+"="+dir, writerLast+"="+done.String())
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(out)
	require.True(t, lines.Scan(), "the writer did not begin")
	require.Equal(t, "begin", lines.Text())
	timer := time.AfterFunc(wait, func() { _ = cmd.Process.Kill() })
	defer timer.Stop()
	for lines.Scan() {
		word, rest, _ := strings.Cut(lines.Text(), " ")
		require.Equal(t, "kept", word, lines.Text())
		require.NoError(t, done.parse(rest))
	}
	require.ErrorContains(t, cmd.Wait(), "killed")
}

// requireKept compares the store with what was acknowledged, and returns what there is: what the writer was about to
// acknowledge may be there.
func requireKept(t *testing.T, dir string, least ack) (got ack) {
	t.Helper()
	s := open(t, dir, Options{})
	defer func() { require.NoError(t, s.Close()) }()
	requireSound(t, s)
	if least != (ack{}) {
		require.Empty(t, s.Notices(), "the file held what was acknowledged")
	}
	got.Boot = len(s.Boots())
	for _, r := range all(t, s, ReadQuery{}) {
		r.Time = time.Time{}
		require.True(t, sameReading(written(1, got.Readings), r), "reading %d is %+v", got.Readings, r)
		got.Readings++
	}
	for run, err := range s.Runs("north") {
		require.NoError(t, err)
		got.Runs++
		want := writtenRun(got.Runs)
		want.At = run.At
		require.Equal(t, want, run)
	}
	recordsOf(t, s, &got)
	for i, x := range []struct{ got, least, beyond int }{
		{got.Boot, least.Boot, 1}, {got.Readings, least.Readings, mostBetween}, {got.Runs, least.Runs, 1},
		{got.Journal, least.Journal, 1}, {got.Alarm, least.Alarm, 1}, {got.Finding, least.Finding, 1},
		{got.Baseline, least.Baseline, 1}, {got.Shop, least.Shop, 1}, {got.Place, least.Place, 1}} {
		require.GreaterOrEqual(t, x.got, x.least, "acknowledged and lost: kind %d of %s, of which there are %s", i, &least, &got)
		require.LessOrEqual(t, x.got, x.least+x.beyond, "never written: kind %d", i)
	}
	return got
}

// recordsOf counts the records, and requires each to be what the writer made of its number.
func recordsOf(t *testing.T, s *Store, got *ack) {
	t.Helper()
	entries, err := s.Journal()
	require.NoError(t, err)
	for _, e := range entries {
		got.Journal++
		require.Equal(t, strconv.Itoa(got.Journal), e.Note)
	}
	alarms, err := s.Alarms()
	require.NoError(t, err)
	for _, a := range alarms {
		got.Alarm = a.Times
		require.Equal(t, alarms[0].Times, a.Times, "two alarms that were written together")
	}
	findings, err := s.Findings("north")
	require.NoError(t, err)
	for _, f := range findings {
		got.Finding = int(f.Size)
	}
	baselines, err := s.Baselines("north")
	require.NoError(t, err)
	for _, b := range baselines {
		got.Baseline++
		require.Equal(t, strconv.Itoa(got.Baseline), string(b.Blob))
	}
	shops, err := s.Shops()
	require.NoError(t, err)
	for _, x := range shops {
		got.Shop++
		require.Equal(t, strconv.Itoa(got.Shop), string(x.Raw))
	}
	for _, b := range s.Boots() {
		if !b.Zero.IsZero() {
			got.Place = int(b.Zero.Sub(noon) / time.Hour)
		}
	}
}

// sameReading compares readings whose standard deviation may be unknown.
func sameReading(a, b reading.Reading) bool {
	for _, x := range []struct{ p, q *float64 }{{&a.SD, &b.SD}, {&a.Value, &b.Value}} {
		if math.IsNaN(*x.p) && math.IsNaN(*x.q) {
			*x.p, *x.q = 0, 0
		}
	}
	return a.Time.Equal(b.Time) && a.Channel == b.Channel && a.Value == b.Value && a.SD == b.SD &&
		a.Span == b.Span && a.N == b.N && a.Quality == b.Quality && a.Boot == b.Boot && a.Mono == b.Mono && a.Seq == b.Seq
}

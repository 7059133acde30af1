package store

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/reading"
)

// writerFolder is the variable that makes the test binary a writer that waits to be killed.
const writerFolder = "STORE_TEST_WRITER"

// written is reading i of the writer: what it must be can be told from its number alone.
func written(boot uint32, i int) reading.Reading {
	r := reading.Reading{Channel: fmt.Sprintf("north/%d", i%5), Value: float64(i*31%977) / 60, SD: math.NaN(), Boot: boot,
		Mono: time.Duration(i) * 700 * time.Millisecond, Seq: uint64(i)}
	if i%5 == 4 {
		r.Value = math.Sin(float64(i))
	}
	return r
}

// writeUntilKilled continues the record in dir, and says on standard output what it has been promised is kept.
func writeUntilKilled(dir string) int {
	s, err := Open(dir, Options{MaxOpen: 4096})
	if err != nil {
		fmt.Println("error", err)
		return 1
	}
	boot := uint32(1)
	if len(s.Boots()) == 0 {
		if boot, err = s.NewBoot(); err != nil {
			return 1
		}
	}
	next := 0
	for _, r := range s.Latest() {
		next = max(next, int(r.Seq)+1)
	}
	rng := rand.New(rand.NewPCG(uint64(next), 4))
	for {
		for range 1 + rng.IntN(200) {
			if err := s.Append([]reading.Reading{written(boot, next)}); err != nil {
				fmt.Println("error", err)
				return 1
			}
			next++
		}
		if rng.IntN(4) == 0 {
			n, err := s.AddJournal(journal.Entry{Kind: journal.Other, Note: strconv.Itoa(next)})
			if err != nil {
				return 1
			}
			fmt.Println("journal", n)
		}
		if err := s.Commit(); err != nil {
			fmt.Println("error", err)
			return 1
		}
		fmt.Println("readings", next)
	}
}

// A writer that is killed at any moment loses nothing that it was told is kept, and leaves nothing that it did not
// write.
func TestKilledWriterLosesNothingAcknowledged(t *testing.T) {
	kills := 20
	if testing.Short() {
		kills = 3
	}
	seed := uint64(20260301)
	t.Logf("seed %d, %d kills", seed, kills)
	rng := rand.New(rand.NewPCG(seed, 1))
	dir := t.TempDir()
	for range kills {
		kept, entries := runAndKill(t, dir, time.Duration(5+rng.IntN(120))*time.Millisecond)
		s := open(t, dir, Options{})
		requireSound(t, s)
		require.Empty(t, s.Notices())
		got := all(t, s, ReadQuery{})
		require.GreaterOrEqual(t, len(got), kept, "acknowledged readings")
		for i, r := range got {
			require.Equal(t, fmt.Sprintf("%+v", written(1, i)), fmt.Sprintf("%+v", r))
		}
		js, err := s.Journal()
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(js), entries, "acknowledged entries")
		require.NoError(t, s.Close())
	}
}

// runAndKill starts a writer, kills it after d from its first acknowledgement, and returns what it acknowledged.
func runAndKill(t *testing.T, dir string, d time.Duration) (readings, entries int) {
	cmd := exec.Command(os.Args[0], "-test.run=none")
	cmd.Env = append(os.Environ(), writerFolder+"="+dir)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	started := false
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if !started {
			started = true
			timer := time.AfterFunc(d, func() { _ = cmd.Process.Kill() })
			defer timer.Stop()
		}
		word, number, _ := strings.Cut(lines.Text(), " ")
		n, err := strconv.Atoi(number)
		require.NoError(t, err, lines.Text())
		if word == "journal" {
			entries = n
		} else {
			readings = n
		}
	}
	_ = cmd.Wait() // it was killed, and says so
	require.True(t, started, "the writer acknowledged nothing")
	return readings, entries
}

package store

import (
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/steady"
)

// everything writes down all that a store tells; readings in bits, since there are so many.
func everything(t *testing.T, s *Store) string {
	t.Helper()
	var b strings.Builder
	var row []byte
	for r, err := range s.Readings(t.Context(), ReadQuery{}) {
		if err != nil { // of each reading, require would cost more than the reading
			require.NoError(t, err)
		}
		row = append(row[:0], r.Channel...)
		for _, v := range []uint64{math.Float64bits(r.Value), math.Float64bits(r.SD), uint64(r.Span), uint64(r.N), uint64(r.Quality),
			uint64(r.Boot), uint64(r.Mono), r.Seq, uint64(r.Time.UnixNano())} {
			row = binary.LittleEndian.AppendUint64(row, v)
		}
		b.Write(row)
	}
	for r, err := range s.Runs("north") {
		require.NoError(t, err)
		fmt.Fprintf(&b, "%+v\n", r)
	}
	entries, err := s.Journal()
	require.NoError(t, err)
	alarms, err := s.Alarms()
	require.NoError(t, err)
	findings, err := s.Findings("north")
	require.NoError(t, err)
	baselines, err := s.Baselines("north")
	require.NoError(t, err)
	shops, err := s.Shops()
	require.NoError(t, err)
	fmt.Fprintf(&b, "%+v\n%+v\n%+v\n%+v\n%+v\n%+v\n", entries, alarms, findings, baselines, shops, s.Boots())
	for _, name := range slices.Sorted(maps.Keys(s.byName)) {
		buckets, err := s.Chart(name, noon, noon.Add(96*time.Hour), 24)
		require.NoError(t, err)
		fmt.Fprintf(&b, "%+v\n", buckets)
	}
	return b.String()
}

// cutRecord is the life of a store whose every commit is looked at.
type cutRecord struct {
	s    *Store
	boot uint32
	at   int // seconds
	n    int
	rng  *rand.Rand
}

// step makes one commit.
func (c *cutRecord) step() error {
	c.n++
	switch c.rng.IntN(12) {
	case 0:
		_, err := c.s.AddJournal(journal.Entry{Time: noon, Kind: journal.Other, Note: strings.Repeat("x", c.rng.IntN(9000))})
		return err
	case 1:
		return c.s.PutAlarms([]alarm.Alarm{{ID: fmt.Sprint(c.rng.IntN(9)), Times: c.n}})
	case 2:
		return c.s.PutFindings("north", []finding.Finding{{ID: "x", Raised: noon, Size: float64(c.n)}})
	case 3:
		return c.s.PutBaseline("north", c.n, make([]byte, c.rng.IntN(20_000)))
	case 4:
		return c.s.PlaceBoot(c.boot, noon.Add(time.Duration(c.rng.IntN(100))*time.Minute))
	case 5:
		if days := c.at / (24 * 3600); days > 0 { // what Prune does, a transaction at a time
			to := blockKey{channel: 1, boot: c.boot, mono: int64(days) * int64(day)}.bytes()
			mark := keyValue{keptKey(0, c.boot), key64(uint64(days) * uint64(day))}
			if kept, err := c.s.keptFrom(c.boot); err != nil || kept[0] < int64(days)*int64(day) {
				return c.s.put(bucketMeta, []keyValue{mark})
			}
			_, err := c.s.deleteSome(bucketBlocks, blockKey{channel: 1, boot: c.boot}.bytes(), to)
			return err
		}
	}
	n := 1 + c.rng.IntN(100)
	if err := c.s.Append(seconds(c.boot, c.at, c.at+n)); err != nil {
		return err
	}
	c.at += n
	switch c.rng.IntN(5) {
	case 0:
		c.at += c.rng.IntN(14 * 3600)
		return c.s.Seal()
	case 1:
		run := steady.Run{Collector: "north", Boot: c.boot, End: time.Duration(c.n) * time.Second, FanHours: 1}
		if err := c.s.AppendRuns([]steady.Run{run}); err != nil {
			return err
		}
	}
	return c.s.Commit()
}

// Wherever a power cut interrupts a commit, the file opens as it was before the commit or as it is after it, sound, and
// can be written on.
func TestAPowerCutLeavesTheStateBeforeOrAfterACommit(t *testing.T) {
	const seed = 20260302
	commits, images := 40, 12
	if testing.Short() {
		commits = 6
	}
	rng := rand.New(rand.NewPCG(seed, 1))
	dir := t.TempDir()
	c := cutRecord{s: open(t, dir, Options{}), rng: rng}
	c.boot = newBoot(t, c.s, noon)
	read := func() []byte {
		b, err := os.ReadFile(filepath.Join(dir, FileName))
		require.NoError(t, err)
		return b
	}
	seen, grew, before := map[string]int{}, 0, read()
	state := stateOf(t, before)
	// bbolt takes whichever free pages it comes upon, and so the file grows once or twice in forty commits, seldom never
	for n := 0; n < commits || grew == 0 && n < 4*commits; n++ {
		require.NoError(t, c.step())
		one := &cut{before: before, after: read(), rng: rng}
		before = one.after
		if len(one.after) > len(one.before) {
			grew++
		}
		require.NotEmpty(t, one.changed(0, metaSize), "step made no commit")
		states := [2]string{state, stateOf(t, one.after)}
		state = states[1]
		for i := range images {
			x := one.whole()
			if i > 0 {
				x = []func() image{one.tornPages, one.cutPages, one.tornMeta}[i%3]()
			}
			seen[x.what]++
			requireState(t, x, states)
		}
	}
	require.Positive(t, grew, "the file grew")
	t.Logf("seed %d: at least %d commits, in %d of which the file grew to %d bytes; images: %v", seed, commits, grew, len(before), seen)
}

// stateOf opens a file that is whole, and closes it: each that is open is mapped, and addresses may be few.
func stateOf(t *testing.T, b []byte) string {
	t.Helper()
	s := openImage(t, b)
	defer func() { require.NoError(t, s.Close()) }()
	return everything(t, s)
}

func openImage(t *testing.T, b []byte) *Store {
	t.Helper()
	dir, err := os.MkdirTemp(t.TempDir(), "")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), b, 0o644))
	s := open(t, dir, Options{})
	s.db.NoSync = true // this copy is cut no more
	return s
}

func requireState(t *testing.T, x image, states [2]string) {
	t.Helper()
	s := openImage(t, x.b)
	defer func() { require.NoError(t, s.Close()) }()
	require.Empty(t, s.Notices(), x.what)
	requireSound(t, s)
	got := everything(t, s)
	if !(x.before && got == states[0]) && !(x.after && got == states[1]) {
		require.Fail(t, x.what, "neither the state before nor the one after:\n%q", got)
	}
	// It goes on from there, over whatever was left in the pages that nobody uses.
	boot, err := s.NewBoot()
	require.NoError(t, err)
	require.NoError(t, s.Append(seconds(boot, 0, 300)))
	require.NoError(t, s.Commit())
	require.NoError(t, s.Seal())
	requireSound(t, s)
}

// A power cut while the file is made costs nothing, since nothing was in it: a new one is begun.
func TestAPowerCutWhileTheFileIsMade(t *testing.T) {
	const seed = 20260303
	rng := rand.New(rand.NewPCG(seed, 1))
	// bbolt lays out four pages at once, and the buckets are one commit after that.
	path := filepath.Join(t.TempDir(), FileName)
	db, err := openBolt(path, time.Second, boundsFor(64))
	require.NoError(t, err)
	require.NoError(t, db.Close())
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Len(t, whole, 4*pageSize)
	aside := 0
	for range 60 {
		b := make([]byte, rng.IntN(len(whole)+1))
		chance := []float64{rng.Float64(), 1}[rng.IntN(2)]
		if rng.IntN(2) == 0 {
			b = make([]byte, len(whole))
		}
		for at := 0; at < len(b); at += sector {
			if rng.Float64() < chance {
				copy(b[at:min(at+sector, len(b))], whole[at:])
			}
		}
		x := openImage(t, b)
		aside += len(x.Notices())
		require.Empty(t, all(t, x, ReadQuery{}))
		require.NoError(t, x.Append(seconds(newBoot(t, x, noon), 0, 10)))
		require.NoError(t, x.Seal())
		requireSound(t, x)
		require.Len(t, all(t, x, ReadQuery{}), 20)
		require.NoError(t, x.Close())
	}
	require.Less(t, aside, 60, "some of them are whole")
	t.Logf("seed %d: 60 beginnings, %d of them set aside", seed, aside)
}

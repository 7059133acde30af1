package store

import (
	"bufio"
	"encoding/hex"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/steady"
)

var update = flag.Bool("update", false, "write the golden files anew")

// A golden file lists every key and value of a small store of format 1, in hexadecimal: bucket, key, value. The first
// has a piece of version 1; goldenFile is what is written today.
const (
	goldenPiece1 = "testdata/format1.txt"
	goldenFile   = "testdata/format1-piece2.txt"
)

// goldenReadings has each kind of column and of coding: counts, a lattice with an offset, numbers as they come, a
// switch that is not known, uneven times, means with spread, and every quality.
func goldenReadings(boot uint32) []reading.Reading {
	var rs []reading.Reading
	add := func(channel string, at time.Duration, v, sd float64, n int, q reading.Quality) {
		rs = append(rs, reading.Reading{Channel: channel, Value: v, SD: sd, N: n, Span: time.Duration(n) * 100 * time.Millisecond,
			Quality: q, Boot: boot, Mono: at, Seq: uint64(len(rs) + 1)})
	}
	none := math.NaN()
	for i := range 300 {
		at := time.Hour + time.Duration(i)*time.Second
		add("north/filter", at, float64(48000+i*i*7919%241)/60, none, 0, reading.Good)
		add("north/static", at+time.Duration(i*i%977)*time.Microsecond, -math.Sqrt(float64(i*104729%9973)), math.Sqrt(float64(i)), 10, reading.Quality(i%4))
		if i%60 == 0 {
			add("north/air", at, float64(float64(i)*0.037)+291.3, none, 0, reading.Uncertain)
			add("gate/saw", at, []float64{1, 0, none}[i/60%3], none, 0, reading.Good)
		}
	}
	return rs
}

var goldenEntry = journal.Entry{Time: noon, Kind: journal.FilterCleaned, Subject: "north", Note: "naïve, \"quoted\"", By: "Ada"}

// goldenStore makes the store that the golden file is of.
func goldenStore(t *testing.T, dir string) *Store {
	s := open(t, dir, Options{})
	goldenInto(t, s)
	return s
}

// goldenInto writes into a new store what the golden file holds.
func goldenInto(t *testing.T, s *Store) {
	boot := newBoot(t, s, noon)
	newBoot(t, s, time.Time{})
	rs := goldenReadings(boot)
	require.NoError(t, s.Append(rs[:500]))
	require.NoError(t, s.AppendRuns([]steady.Run{{Collector: "north", Kind: steady.Closed, Boot: boot, Start: time.Hour, End: 2 * time.Hour,
		FanHours: 1, Open: []string{}, Ports: []steady.Port{{Selector: "hose", Port: 2}},
		Channels: []steady.Summary{{Channel: "north/filter", Mean: 800.25, SE: 0.5, SD: math.NaN(), N: 3600, ZeroAge: time.Minute}}}}))
	require.NoError(t, s.Seal())
	require.NoError(t, s.Append(rs[500:]))
	require.NoError(t, s.Commit())
	_, err := s.AddJournal(goldenEntry)
	require.NoError(t, err)
	require.NoError(t, s.PutFindings("north", []finding.Finding{{ID: "leak-1", Collector: "north", Kind: finding.NewLeak, Raised: noon, Size: 0.004,
		SizeLow: 0.002, SizeHigh: math.NaN(), Confidence: 0.9, Where: []finding.Place{{Part: "run:main", Probability: 0.7}, {Part: "other", Probability: 0.3}}}}))
	require.NoError(t, s.PutAlarms([]alarm.Alarm{{ID: "leak-1", Cause: "north/new-leak/", Priority: finding.Plan, State: alarm.ActiveUnacknowledged, Raised: noon}}))
	require.NoError(t, s.PutBaseline("north", 1, []byte("baseline")))
	require.NoError(t, s.PutShop([]byte("shop: joinery\n"), noon))
}

func TestFormatIsThatOfTheGoldenFile(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	requireSound(t, s)
	got := dump(t, s)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(goldenFile, []byte(got), 0o644))
	}
	want, err := os.ReadFile(goldenFile)
	require.NoError(t, err)
	assert.Equal(t, strings.Split(string(want), "\n"), strings.Split(got, "\n"))
}

func dump(t *testing.T, s *Store) string {
	var b strings.Builder
	require.NoError(t, s.db.View(func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, bucket *bolt.Bucket) error {
			fmt.Fprintf(&b, "%s %d\n", name, bucket.Sequence())
			return bucket.ForEach(func(k, v []byte) error {
				fmt.Fprintf(&b, "%s %x %x\n", name, k, v)
				return nil
			})
		})
	}))
	return b.String()
}

// What format 1 holds is read for ever, whatever is written today.
func TestGoldenFileIsRead(t *testing.T) {
	for _, golden := range []string{goldenPiece1, goldenFile} {
		t.Run(golden, func(t *testing.T) { goldenIsRead(t, golden) })
	}
}

func goldenIsRead(t *testing.T, golden string) {
	dir := t.TempDir()
	rebuild1(t, golden, filepath.Join(dir, FileName))
	s := open(t, dir, Options{})
	assert.Empty(t, s.Notices())
	requireSound(t, s)
	got := all(t, s, ReadQuery{})
	want := goldenReadings(1)
	sortReadings(want)
	requireSame(t, want, got, noon)
	assert.Len(t, s.Boots(), 2)
	js, err := s.Journal()
	require.NoError(t, err)
	assert.Equal(t, "naïve, \"quoted\"", js[0].Note)
	fs, err := s.Findings("north")
	require.NoError(t, err)
	assert.Equal(t, 0.004, fs[0].Size)
	assert.True(t, math.IsNaN(fs[0].SizeHigh))
	as, err := s.Alarms()
	require.NoError(t, err)
	assert.Equal(t, alarm.ActiveUnacknowledged, as[0].State)
	for r, err := range s.Runs("north") {
		require.NoError(t, err)
		assert.Equal(t, 800.25, r.Channels[0].Mean)
		assert.Equal(t, noon.Add(2*time.Hour), r.At)
	}
}

func rebuild1(t *testing.T, golden, path string) {
	f, err := os.Open(golden)
	require.NoError(t, err)
	defer func() { _ = f.Close() }()
	db, err := bolt.Open(path, 0o644, &bolt.Options{PageSize: pageSize})
	require.NoError(t, err)
	require.NoError(t, db.Update(func(tx *bolt.Tx) error {
		lines := bufio.NewScanner(f)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			word := strings.Fields(lines.Text())
			if len(word) == 2 {
				b, err := tx.CreateBucket([]byte(word[0]))
				require.NoError(t, err)
				var n uint64
				_, err = fmt.Sscan(word[1], &n)
				require.NoError(t, err)
				require.NoError(t, b.SetSequence(n))
				continue
			}
			k, err := hex.DecodeString(word[1])
			require.NoError(t, err)
			v, err := hex.DecodeString(word[2])
			require.NoError(t, err)
			require.NoError(t, tx.Bucket([]byte(word[0])).Put(k, v))
		}
		return lines.Err()
	}))
	require.NoError(t, db.Close())
}

package store

import (
	"math"
	"math/bits"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/reading"
)

// A process of 32 bits maps 2 GB at the most, and bbolt maps more than 1 GiB as all of them at once.
func TestBoundsOfSmallWords(t *testing.T) {
	b := boundsFor(32)
	assert.LessOrEqual(t, b.ceiling, int64(1)<<30)
	assert.Less(t, b.limit, b.ceiling)
	assert.Less(t, b.ahead, b.limit)
	assert.Zero(t, boundsFor(64).limit)
	assert.Zero(t, boundsFor(64).ceiling)
}

// At the limit nothing is written but what makes room; then writing goes on. Nothing is lost, and the file stays sound.
func TestAtTheLimitOnlyRoomIsMade(t *testing.T) {
	small := &bounds{limit: 1 << 20, ceiling: 4 << 20}
	dir := t.TempDir()
	opt := Options{KeepRaw: 24 * time.Hour, bounds: small}
	s := open(t, dir, opt)
	boot := newBoot(t, s, noon)
	var err error
	second := 0
	for err == nil {
		require.Less(t, second, 40*86400, "the limit is reached")
		var rs []reading.Reading
		for end := second + 3*3600; second < end; second += 5 { // as they come, which takes eight bytes each
			rs = append(rs, reading.Reading{Channel: "north/static", Value: math.Sin(float64(second)), SD: math.NaN(), Boot: boot,
				Mono: time.Duration(second) * time.Second, Seq: uint64(second)})
		}
		require.NoError(t, s.Append(rs))
		err = s.Seal()
	}
	require.ErrorIs(t, err, ErrLimit)
	assert.ErrorContains(t, err, "keep raw readings for a shorter time (--keep-raw), or move the data folder to a machine of 64 bits")
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other})
	require.ErrorIs(t, err, ErrLimit)
	requireSound(t, s)
	space, err := s.Space()
	require.NoError(t, err)
	assert.LessOrEqual(t, space.Size, small.ceiling)
	assert.GreaterOrEqual(t, space.Size-space.Free, small.limit)

	deleted, err := s.Prune(noon.Add(time.Duration(second) * time.Second))
	require.NoError(t, err)
	require.Positive(t, deleted)
	require.NoError(t, s.Seal(), "there is room again")
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other})
	require.NoError(t, err)
	requireSound(t, s)
	assert.Equal(t, time.Duration(second-5)*time.Second, s.Latest()["north/static"].Mono)
	got := all(t, s, ReadQuery{})
	assert.Equal(t, time.Duration(second-5)*time.Second, got[len(got)-1].Mono, "what waited is there")

	require.NoError(t, s.Close())
	before, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	_, err = Open(dir, Options{bounds: &bounds{limit: 1 << 18, ceiling: 1 << 19}})
	require.ErrorIs(t, err, ErrLimit)
	assert.ErrorContains(t, err, "open it on a machine of 64 bits")
	after, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

// Even where the file cannot grow at all, the error says what to do.
func TestTheCeilingHasTheRemedyToo(t *testing.T) {
	s := open(t, t.TempDir(), Options{bounds: &bounds{limit: 1 << 30, ceiling: 1 << 20}})
	newBoot(t, s, noon)
	var err error
	for range 2000 {
		if _, err = s.AddJournal(journal.Entry{Kind: journal.Other, Note: string(make([]byte, 1000))}); err != nil {
			break
		}
	}
	require.ErrorIs(t, err, ErrLimit)
	assert.ErrorContains(t, err, "--keep-raw")
	requireSound(t, s)
}

// Where addresses are short, the file is opened with less room to grow.
func TestShortOfAddresses(t *testing.T) {
	if bits.UintSize < 64 {
		t.Log("a machine of 32 bits asks for little: there is nothing to fall back from")
		return
	}
	dir := t.TempDir()
	more := bounds{ahead: 1 << 46 << 1} // more than a process can have
	s, err := Open(dir, Options{bounds: &more})
	require.NoError(t, err)
	_, err = s.NewBoot()
	require.NoError(t, err)
	require.NoError(t, s.Close())
}

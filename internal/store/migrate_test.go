package store

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// laterFormats are two formats that might follow: channels get a name in front, and then alarms go.
func laterFormats() *formats {
	return &formats{newest: format + 2, steps: map[uint8]step{
		format: func(bucket, k, v []byte, put func(bucket, k, v []byte) error) error {
			if bytes.Equal(bucket, bucketChannels) {
				v = append([]byte("quernstone/"), v...)
			}
			return put(bucket, k, v)
		},
		format + 1: func(bucket, k, v []byte, put func(bucket, k, v []byte) error) error {
			switch {
			case bytes.Equal(bucket, bucketAlarms):
				return nil
			case bytes.Equal(bucket, bucketChannels) && !bytes.HasPrefix(v, []byte("quernstone/")):
				return errors.New("the first step has not been taken")
			}
			return put(bucket, k, v)
		},
	}}
}

// Every format that was released is brought to the newest by all the steps in between, and its file is kept as it was.
func TestMigrationKeepsTheOldFile(t *testing.T) {
	for _, golden := range []string{goldenPiece1, goldenFile} {
		t.Run(golden, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, FileName)
			rebuild1(t, golden, path)
			before, err := os.ReadFile(path)
			require.NoError(t, err)

			s := open(t, dir, Options{formats: laterFormats()})
			requireSound(t, s)
			assert.Contains(t, s.Latest(), "quernstone/north/filter")
			as, err := s.Alarms()
			require.NoError(t, err)
			assert.Empty(t, as)
			got := all(t, s, ReadQuery{})
			require.Len(t, got, len(goldenReadings(1)))
			n, err := s.AddJournal(goldenEntry)
			require.NoError(t, err)
			assert.EqualValues(t, 2, n, "numbers go on")

			require.Len(t, s.Notices(), 1)
			aside := s.Notices()[0].SetAside
			assert.True(t, strings.HasPrefix(aside, path+".format-1-"), aside)
			assert.Contains(t, s.Notices()[0].Text, "was migrated from format 1 to 3; the old file is kept as "+aside)
			kept, err := os.ReadFile(aside)
			require.NoError(t, err)
			assert.Equal(t, before, kept, "the backup is the old file, to the byte")
			require.NoError(t, s.Close())
			s = open(t, dir, Options{formats: laterFormats()})
			assert.Empty(t, s.Notices(), "once is enough")
			require.NoError(t, s.Close())

			v, err := Verify(aside)
			require.NoError(t, err, "a backup of an older format can be restored")
			assert.EqualValues(t, format, v.Format)
			_, err = Open(dir, Options{})
			require.ErrorIs(t, err, ErrNewer, "the program before cannot open what it does not know")
		})
	}
}

// A migration that fails leaves the file as it was, and so does a program that lacks a step.
func TestMigrationThatFailsChangesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, FileName)
	rebuild1(t, goldenFile, path)
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	names := func() (out []string) {
		list, err := os.ReadDir(dir)
		require.NoError(t, err)
		for _, f := range list {
			out = append(out, f.Name())
		}
		return out
	}
	fails := laterFormats()
	fails.steps[format+1] = func(bucket, k, v []byte, put func(bucket, k, v []byte) error) error {
		if bytes.Equal(bucket, bucketRuns) {
			return errors.New("a run of this kind is not known")
		}
		return put(bucket, k, v)
	}
	unsound := laterFormats()
	unsound.steps[format+1] = func(bucket, k, v []byte, put func(bucket, k, v []byte) error) error {
		if bytes.Equal(bucket, bucketBoots) {
			return nil
		}
		return put(bucket, k, v)
	}
	lacks := laterFormats()
	delete(lacks.steps, format+1)
	for want, f := range map[string]*formats{
		"a run of this kind is not known; the file is as it was":                          fails,
		"the migrated file is damaged in":                                                 unsound,
		"is of the older format 1, and there is no way from format 2 to 3: use a program": lacks,
	} {
		_, err := Open(dir, Options{formats: f})
		require.ErrorContains(t, err, want)
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, before, after)
		assert.ElementsMatch(t, []string{FileName, lockName}, names())
	}
	s := open(t, dir, Options{})
	requireSound(t, s)
}

// What a power cut leaves of a file that was to take the store's place, or of a copy of it, is removed, whichever it was.
func TestWhatWasLeftUnfinishedIsRemoved(t *testing.T) {
	dir := t.TempDir()
	s := goldenStore(t, dir)
	want := dump(t, s)
	require.NoError(t, s.Close())
	whole, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	for _, left := range [][]byte{nil, whole[:5000], whole, bytes.Repeat([]byte{0xff}, 20_000)} {
		require.NoError(t, os.WriteFile(newName(s.Path()), left, 0o644))
		require.NoError(t, os.WriteFile(halfAside(s.Path()), left, 0o644))
		s = open(t, dir, Options{})
		assert.Equal(t, want, dump(t, s))
		assert.NoFileExists(t, newName(s.Path()))
		assert.NoFileExists(t, halfAside(s.Path()))
		assert.Empty(t, s.Notices())
		require.NoError(t, s.Close())
	}
}

package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"ductward/internal/journal"
)

// Each invariant is broken in a sound store, and Check names it by its number.
func TestCheckNamesWhatIsBroken(t *testing.T) {
	for _, tc := range []struct {
		invariant int
		what      string
		want      string
		spoil     func(tx *bolt.Tx) error
	}{
		{1, "a bucket is gone", `invariant 1: bucket "shops", key : is not there`, func(tx *bolt.Tx) error { return tx.DeleteBucket(bucketShops) }},
		{1, "a bucket of something else", `invariant 1: bucket "coffee", key : is no bucket of this format`, func(tx *bolt.Tx) error {
			_, err := tx.CreateBucket([]byte("coffee"))
			return err
		}},
		{2, "a channel without a name", `invariant 2: bucket "blocks", key channel 1, boot 1, 0 ns, serial 0: channel 1 has no name`, func(tx *bolt.Tx) error { return tx.Bucket(bucketChannels).Delete(key32(1)) }},
		{2, "two of one name", `invariant 2: bucket "channels", key 2: has the name "north/filter", as has channel 1`, func(tx *bolt.Tx) error {
			return tx.Bucket(bucketChannels).Put(key32(2), []byte("north/filter"))
		}},
		{3, "a block under another key", `invariant 3: bucket "blocks", key channel 1, boot 1, 1 ns, serial 0: fails its checksum`, func(tx *bolt.Tx) error {
			return tx.Bucket(bucketBlocks).Put(blockKey{1, 1, 1, 0}.bytes(), tx.Bucket(bucketBlocks).Get(blockKey{1, 1, 0, 0}.bytes()))
		}},
		{4, "a block twice", `invariant 4: bucket "blocks", key channel 1, boot 1, day 0: the reading at 0s with sequence 0 stands twice`, func(tx *bolt.Tx) error {
			old, key := blockKey{1, 1, 0, 0}.bytes(), blockKey{1, 1, 0, 1}.bytes()
			rs, err := readBlock(nil, old, tx.Bucket(bucketBlocks).Get(old), 1)
			if err != nil {
				return err
			}
			b, _ := new(coder).appendBlock(nil, key, rs, 0)
			return tx.Bucket(bucketBlocks).Put(key, b)
		}},
		{5, "a piece cut short", `invariant 5: bucket "open", key piece 0000000000000001: fails its checksum`, func(tx *bolt.Tx) error {
			v := tx.Bucket(bucketOpen).Get(key64(1))
			return tx.Bucket(bucketOpen).Put(key64(1), append([]byte(nil), v[:len(v)/2]...))
		}},
		{6, "minutes under another day", `invariant 6: bucket "minutes", key channel 1, boot 1, period 7: holds slots of another period`, func(tx *bolt.Tx) error {
			key := rollKey{1, 1, 7}.bytes()
			return tx.Bucket(levels[0].bucket).Put(key, new(coder).appendRolls(nil, key, []roll{{slot: 3, n: 1}}))
		}},
		{7, "minutes that miss some", `invariant 7: bucket "minutes", key channel 1, boot 1, period 0: has 1 roll-ups, and the raw readings make 67`, func(tx *bolt.Tx) error {
			key := rollKey{1, 1, 0}.bytes()
			return tx.Bucket(levels[0].bucket).Put(key, new(coder).appendRolls(nil, key, []roll{{slot: 3, n: 1}}))
		}},
		{7, "hours that count double", `invariant 7: bucket "hours", key channel 1, boot 1, period 0: roll-up 0 (n 7200,`, func(tx *bolt.Tx) error {
			key := rollKey{1, 1, 0}.bytes()
			rs, err := readRolls(key, tx.Bucket(levels[1].bucket).Get(key), &levels[1])
			if err != nil {
				return err
			}
			return tx.Bucket(levels[1].bucket).Put(key, new(coder).appendRolls(nil, key, mergeRolls(rs, rs)))
		}},
		{8, "a boot that is gone", `invariant 8: bucket "blocks", key channel 1, boot 1, 0 ns, serial 0: boot 1 is not known`, func(tx *bolt.Tx) error { return tx.Bucket(bucketBoots).Delete(key32(1)) }},
		{9, "an entry that is gone", `invariant 9: bucket "journal", key 0000000000000002: should be number 1`, func(tx *bolt.Tx) error { return tx.Bucket(bucketJournal).Delete(key64(1)) }},
		{9, "an entry that was edited", `invariant 9: bucket "journal", key "\x00\x00\x00\x00\x00\x00\x00\x01": fails its checksum`, func(tx *bolt.Tx) error {
			v := append([]byte(nil), tx.Bucket(bucketJournal).Get(key64(1))...)
			v[10]++
			return tx.Bucket(bucketJournal).Put(key64(1), v)
		}},
	} {
		t.Run(tc.what, func(t *testing.T) {
			s := checkedStore(t)
			require.NoError(t, s.db.Update(tc.spoil))
			breaches, err := s.Check()
			require.NoError(t, err)
			require.NotEmpty(t, breaches)
			var texts []string
			for _, b := range breaches {
				texts = append(texts, b.String()[:min(len(b.String()), len(tc.want))])
			}
			assert.Contains(t, texts, tc.want)
			assert.Equal(t, tc.invariant, breaches[0].Invariant)
		})
	}
}

func checkedStore(t *testing.T) *Store {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Append(seconds(boot, 0, 4000)))
	require.NoError(t, s.Seal())
	require.NoError(t, s.Append(seconds(boot, 4000, 4010)))
	require.NoError(t, s.Commit())
	for range 2 {
		_, err := s.AddJournal(journal.Entry{Time: noon, Kind: journal.Check, By: "Ada"})
		require.NoError(t, err)
	}
	requireSound(t, s)
	return s
}

// A page number that points nowhere, or round in a circle, is named, and neither stops nor fills up anything.
func TestCheckOfPages(t *testing.T) {
	whole := open(t, t.TempDir(), Options{})
	require.NoError(t, whole.Append(seconds(newBoot(t, whole, noon), 0, 100_000)))
	require.NoError(t, whole.Close())
	sound, err := os.ReadFile(whole.Path())
	require.NoError(t, err)
	m, err := readMeta(mustOpen(t, whole.Path()))
	require.NoError(t, err)
	id := branchPage(sound, m.pages)
	require.NotZero(t, id, "the record is long enough for a branch page")
	for _, tc := range []struct {
		name  string
		spoil func(page []byte, id uint64)
		want  string
	}{
		{"outside the file", func(p []byte, _ uint64) { native.PutUint64(p[pageHead+8:], 1<<40) }, "page 1099511627776 is outside the file"},
		{"round in a circle", func(p []byte, id uint64) { native.PutUint64(p[pageHead+8:], id) }, "is reached twice"},
		{"endless", func(p []byte, _ uint64) { binary.NativeEndian.PutUint32(p[12:], 1<<31) }, "goes on for 2147483648 of"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, FileName)
			b := bytes.Clone(sound)
			tc.spoil(b[id*pageSize:], id)
			require.NoError(t, os.WriteFile(path, b, 0o644))

			var got []string
			walkPages(mustOpen(t, path), int64(len(b)), func(format string, args ...any) {
				got = append(got, fmt.Sprintf(format, args...))
			})
			require.NotEmpty(t, got)
			assert.Contains(t, got[0], tc.want)

			s := open(t, dir, Options{})
			require.Len(t, s.Notices(), 1)
			assert.Contains(t, s.Notices()[0].Text, tc.want)
			assert.FileExists(t, s.Notices()[0].SetAside)
		})
	}
}

func mustOpen(t *testing.T, path string) *os.File {
	f, err := os.Open(path)
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close() })
	return f
}

// branchPage returns a branch page that the newest state of the file uses; 0 if there is none.
func branchPage(b []byte, pages uint64) uint64 {
	w := &pageWalk{f: bytes.NewReader(b), n: pages, used: make([]bool, pages), quick: true, report: func(string, ...any) {}}
	m, err := readMeta(w.f)
	if err != nil {
		return 0
	}
	w.tree(m.root, 0)
	for id := pages - 1; id > 1; id-- {
		p := b[id*pageSize:]
		if w.used[id] && native.Uint64(p) == id && native.Uint16(p[8:]) == flagBranch {
			return id
		}
	}
	return 0
}

// While readings cannot be written they are held up to a bound, and what was held is written when it can be.
func TestReadingsThatCannotBeWrittenAreHeldWithinABound(t *testing.T) {
	s := open(t, t.TempDir(), Options{MaxOpen: 1000})
	boot := newBoot(t, s, noon)
	db := s.db
	broken, err := bolt.Open(t.TempDir()+"/closed", 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, broken.Close())
	s.db = broken // every transaction fails, as on a full card

	held, told := 0, false
	for i := range 1100 {
		err := s.Append(seconds(boot, i, i+1))
		if errors.Is(err, ErrFull) {
			break
		}
		told = told || err != nil
		held += 2
	}
	assert.Equal(t, 2000, held, "twice what is sealed at once")
	assert.True(t, told, "the failed commit is told before anything is lost")
	assert.ErrorContains(t, s.Commit(), "commit readings: database not open")

	s.db = db
	require.NoError(t, s.Commit())
	assert.Len(t, all(t, s, ReadQuery{}), held)
	requireSound(t, s)
}

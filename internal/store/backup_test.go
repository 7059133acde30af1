package store

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
)

// A backup that is taken while readings are written holds all that was acknowledged before, nothing that was not
// written, and is sound.
func TestBackupWhileReadingsAreWritten(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Append(seconds(boot, 0, 20_000)))
	require.NoError(t, s.Commit())
	stop, ended := make(chan struct{}), make(chan error)
	go func() {
		for i := 20_000; ; i++ {
			select {
			case <-stop:
				ended <- nil
				return
			default:
			}
			if err := errors.Join(s.Append(seconds(boot, i, i+1)), s.Commit()); err != nil {
				ended <- err
				return
			}
		}
	}()
	dir := t.TempDir()
	for i := range 5 {
		before, err := s.newest(boot)
		require.NoError(t, err)
		path := filepath.Join(dir, string(rune('a'+i)), FileName)
		require.NoError(t, os.Mkdir(filepath.Dir(path), 0o755))
		told, err := BackupTo(path, false, s.Backup)
		require.NoError(t, err)

		v, err := Verify(path)
		require.NoError(t, err)
		assert.Empty(t, v.Breaches)
		assert.True(t, told.Equal(v.Tally))
		copied := open(t, filepath.Dir(path), Options{})
		got := all(t, copied, ReadQuery{})
		assert.EqualValues(t, told.Readings, len(got))
		assert.GreaterOrEqual(t, len(got), 40_000)
		assert.GreaterOrEqual(t, got[len(got)-1].Mono, time.Duration(before.mono)-time.Second, "acknowledged before it began")
		requireSame(t, seconds(boot, 0, len(got)/2), got[:len(got)/2*2], noon)
		assert.NoFileExists(t, path+".partial")
	}
	close(stop)
	require.NoError(t, <-ended)
	requireSound(t, s)
}

// A stream that nobody reads holds up neither commits nor records, nor the compaction of the file that it is a copy of.
func TestBackupToASlowStreamHoldsNobodyUp(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Append(seconds(boot, 0, 50_000)))
	require.NoError(t, s.Seal())
	want := dump(t, s)

	r, w := io.Pipe()
	told := make(chan Tally, 1)
	go func() {
		tally, err := s.Backup(w)
		assert.NoError(t, err)
		_ = w.Close()
		told <- tally
	}()
	begin := make([]byte, 3*pageSize)
	_, err := io.ReadFull(r, begin)
	require.NoError(t, err)
	for i := range 200 {
		require.NoError(t, s.Append(seconds(boot, 50_000+i, 50_001+i)))
		require.NoError(t, s.Commit())
	}
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other, Note: "meanwhile"})
	require.NoError(t, err)
	compacted := make(chan error)
	go func() { compacted <- s.Compact(t.Context()) }()
	for first(s) { // until the new file is in use
		time.Sleep(time.Millisecond)
	}
	require.NoError(t, s.Append(seconds(boot, 50_200, 50_201)))
	require.NoError(t, s.Commit(), "in the new file, while the old one is still being copied")

	rest, err := io.ReadAll(r)
	require.NoError(t, err)
	require.NoError(t, <-compacted, "it waits for the copy of the old file alone")
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), append(begin, rest...), 0o644))
	v, err := Verify(filepath.Join(dir, FileName))
	require.NoError(t, err)
	assert.True(t, (<-told).Equal(v.Tally))
	assert.Equal(t, want, dump(t, open(t, dir, Options{})), "as it was when the copy began")
	requireSound(t, s)
	assert.Len(t, all(t, s, ReadQuery{}), 2*50_201)
}

// first tells whether the store is still on the file that it was opened with.
func first(s *Store) bool {
	s.file.RLock()
	defer s.file.RUnlock()
	return s.db.Path() == s.path
}

// What is not what it should be never gets the name of a backup, and an older one stays.
func TestABackupThatCannotBeVerifiedIsNone(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	path := filepath.Join(t.TempDir(), "copy.db")
	_, err := BackupTo(path, false, s.Backup)
	require.NoError(t, err)
	_, err = BackupTo(path, false, s.Backup)
	require.ErrorIs(t, err, ErrExists)
	old, err := os.ReadFile(path)
	require.NoError(t, err)

	spoilt := func(w io.Writer) (Tally, error) {
		var b bytes.Buffer
		tally, err := s.Backup(&b)
		_, _ = w.Write(bytes.ReplaceAll(b.Bytes(), []byte("quoted"), []byte("quoTed")))
		return tally, err
	}
	short := func(w io.Writer) (Tally, error) {
		var b bytes.Buffer
		tally, err := s.Backup(&b)
		_, _ = w.Write(b.Bytes()[:b.Len()-2*pageSize])
		return tally, err
	}
	other := func(w io.Writer) (Tally, error) {
		tally, err := s.Backup(w)
		tally.Readings++
		return tally, err
	}
	broken := func(w io.Writer) (Tally, error) {
		_, _ = w.Write(old[:8192])
		return Tally{}, errors.New("the line broke")
	}
	for want, from := range map[string]func(io.Writer) (Tally, error){
		"its sum is":                spoilt,
		"and should have":           short,
		"readings, and should have": other,
		"the line broke":            broken,
	} {
		_, err := BackupTo(path, true, from)
		require.ErrorContains(t, err, want)
		assert.NoFileExists(t, path+".partial")
		now, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, old, now)
	}
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other, Note: "later"})
	require.NoError(t, err)
	told, err := BackupTo(path, true, s.Backup)
	require.NoError(t, err)
	assert.EqualValues(t, 2, told.Journal())
}

// What is restored is what was backed up, to the key; a store that is there stays until somebody says otherwise.
func TestRestore(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	backup := filepath.Join(t.TempDir(), "copy.db")
	_, err := BackupTo(backup, false, s.Backup)
	require.NoError(t, err)
	want := dump(t, s)

	dir := filepath.Join(t.TempDir(), "new", "folder")
	r, err := Restore(t.Context(), backup, dir, false)
	require.NoError(t, err)
	assert.Empty(t, r.SetAside)
	assert.EqualValues(t, len(goldenReadings(1)), r.Readings)
	back := open(t, dir, Options{})
	assert.Equal(t, want, dump(t, back))
	requireSound(t, back)

	_, err = Restore(t.Context(), backup, dir, true)
	require.ErrorIs(t, err, ErrInUse, "by a store that is open")
	_, err = back.AddJournal(journal.Entry{Kind: journal.Other, Note: "since"})
	require.NoError(t, err)
	require.NoError(t, back.Close())
	_, err = Restore(t.Context(), backup, dir, false)
	require.ErrorIs(t, err, ErrExists)
	r, err = Restore(t.Context(), backup, dir, true)
	require.NoError(t, err)
	assert.Equal(t, want, dump(t, open(t, dir, Options{})))
	v, err := Verify(r.SetAside)
	require.NoError(t, err)
	assert.EqualValues(t, 2, v.Journal(), "what was there is kept")
	assert.Empty(t, v.Breaches)
	assert.NoFileExists(t, newName(filepath.Join(dir, FileName)))
}

func TestRestoreRefusesWhatIsDamaged(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	backup := filepath.Join(t.TempDir(), "copy.db")
	_, err := BackupTo(backup, false, s.Backup)
	require.NoError(t, err)
	b, err := os.ReadFile(backup)
	require.NoError(t, err)
	dir := filepath.Join(t.TempDir(), "data")
	for want, spoilt := range map[string][]byte{
		`invariant 9: bucket "journal"`: bytes.ReplaceAll(b, []byte("quoted"), []byte("quoTed")),
		"is damaged":                    b[:len(b)/2],
		"invalid database":              bytes.Repeat([]byte("coffee"), 5000),
	} {
		require.NoError(t, os.WriteFile(backup, spoilt, 0o644))
		_, err := Restore(t.Context(), backup, dir, false)
		require.ErrorContains(t, err, want)
		assert.NoDirExists(t, dir)
	}
	_, err = Restore(t.Context(), backup+"x", dir, false)
	require.ErrorIs(t, err, os.ErrNotExist)
}

// A card without second names for files gets a copy, and a power cut in between changes nothing.
func TestKeepAs(t *testing.T) {
	path := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o644))
	aside, err := asideName(path, "damaged")
	require.NoError(t, err)
	assert.Equal(t, path+".damaged-"+time.Now().UTC().Format(time.DateOnly), aside)
	require.NoError(t, keepAs(path, aside))
	again, err := asideName(path, "damaged")
	require.NoError(t, err)
	assert.Equal(t, aside, again, "the power went after it had its second name")
	require.NoError(t, keepAs(path, again))

	require.NoError(t, os.WriteFile(path+".new", []byte("new"), 0o644))
	require.NoError(t, putInPlace(path+".new", path, aside))
	other, err := asideName(path, "damaged")
	require.NoError(t, err)
	assert.Equal(t, aside+"-2", other, "the first name is taken by another file")
	require.NoError(t, copyFile(path, other))
	for name, want := range map[string]string{path: "new", aside: "old", other: "new"} {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		assert.Equal(t, want, string(b))
	}
}

// A card on which a file has one name only gets a copy, which has the name of what was set aside once it is whole.
func TestKeepCopy(t *testing.T) {
	dir := t.TempDir()
	path, aside := filepath.Join(dir, FileName), filepath.Join(dir, "aside")
	require.NoError(t, syscall.Mkfifo(path, 0o644), "a file that is read as slowly as this test writes it")
	kept := make(chan error)
	go func() { kept <- keepCopy(path, aside) }()
	w, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = w.WriteString("ol")
	require.NoError(t, err)
	names := func() (out []string) {
		list, err := os.ReadDir(dir)
		require.NoError(t, err)
		for _, f := range list {
			out = append(out, f.Name())
		}
		return out
	}
	for len(names()) < 2 { // until the copy has begun
		time.Sleep(time.Millisecond)
	}
	assert.ElementsMatch(t, []string{FileName, filepath.Base(halfAside(path))}, names())
	_, err = w.WriteString("d")
	require.NoError(t, err)
	require.NoError(t, w.Close())
	require.NoError(t, <-kept)
	b, err := os.ReadFile(aside)
	require.NoError(t, err)
	assert.Equal(t, "old", string(b))
	assert.NoFileExists(t, halfAside(path))

	taken := filepath.Join(dir, "folder")
	require.NoError(t, os.MkdirAll(filepath.Join(taken, "with something in it"), 0o755))
	require.ErrorContains(t, keepCopy(aside, taken), "set "+aside+" aside")
	assert.NoFileExists(t, halfAside(aside), "nothing is left of one that fails")
	require.NoError(t, keepCopy(aside, aside+"-2"), "and so the next one is made")
}

package store

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
)

// A backup never takes the place of a store that somebody may have open, by whatever name it is asked to, and never that
// of what is no file. What is there stays.
func TestPlacesThatAreNoneForABackup(t *testing.T) {
	dir := t.TempDir()
	s := goldenStore(t, dir)
	other := t.TempDir()
	link := filepath.Join(other, "link")
	require.NoError(t, os.Symlink(dir, link))
	require.NoError(t, os.Symlink(s.Path(), filepath.Join(other, "link.db")))
	require.NoError(t, os.Symlink(filepath.Join(other, "nowhere"), filepath.Join(other, "dangling.db")))
	require.NoError(t, os.Link(s.Path(), filepath.Join(dir, "DUCTWA~1.DB")), "as a file system with short names would show it")
	before, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	asked := func(io.Writer) (Tally, error) {
		t.Error("nothing is copied")
		return Tally{}, nil
	}
	const stores, folder, ordinary = "belongs to the store of that folder", "is a folder: name a file in it", "is no ordinary file"
	for path, want := range map[string]string{
		s.Path(): stores,
		dir + "/../" + filepath.Base(dir) + "/./" + FileName: stores,
		filepath.Join(link, FileName):                        stores,
		filepath.Join(dir, "Ductward.DB"):                    stores,
		filepath.Join(dir, "DUCTWA~1.DB"):                    stores,
		filepath.Join(dir, lockName):                         stores,
		newName(s.Path()):                                    stores, // which need not be there
		halfAside(s.Path()):                                  stores,
		dir:                                                  folder,
		dir + "/":                                            folder,
		filepath.Join(other, "link.db"):                      ordinary,
		filepath.Join(other, "dangling.db"):                  ordinary,
		link:                                                 ordinary,
	} {
		for _, replace := range []bool{false, true} {
			_, err := BackupTo(path, replace, asked)
			require.ErrorIs(t, err, ErrNoPlace, path)
			require.ErrorContains(t, err, want, path)
		}
	}
	after, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	assert.Equal(t, before, after)
	_, err = s.AddJournal(journal.Entry{Kind: journal.Other, Note: "it is still the file of that name"})
	require.NoError(t, err)
	requireSound(t, s)

	require.NoError(t, os.Remove(filepath.Join(dir, "DUCTWA~1.DB")))
	for _, path := range []string{filepath.Join(other, FileName), filepath.Join(dir, "copy.db")} {
		_, err = BackupTo(path, false, s.Backup)
		require.NoError(t, err, "a folder that nobody has open, and another name in one that somebody has")
	}
}

// Of two backups that are made at one path at once the second is refused, and takes nothing away from the first.
func TestTwoBackupsAtOnce(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	path := filepath.Join(t.TempDir(), "copy.db")
	told, err := BackupTo(path, false, func(w io.Writer) (Tally, error) {
		_, err := BackupTo(path, true, s.Backup)
		require.ErrorContains(t, err, "is being written by another backup")
		_, err = BackupTo(path+"2", true, s.Backup)
		require.NoError(t, err, "at another path there may be one")
		return s.Backup(w)
	})
	require.NoError(t, err)
	v, err := Verify(path)
	require.NoError(t, err)
	assert.True(t, told.Equal(v.Tally))
	assert.NoFileExists(t, path+".partial")

	p, err := newPart(path)
	require.NoError(t, err)
	require.NoError(t, os.Rename(p.path, path))
	require.ErrorContains(t, p.hold(), "is being written by another backup", "which was done between opening and locking")
	p.let()
}

// What a power cut left of a backup is written over; what is no file that a backup has left is not.
func TestWhatIsLeftOfABackup(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	path := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, os.WriteFile(path+".partial", bytes.Repeat([]byte("half"), 1<<20), 0o644))
	_, err := BackupTo(path, false, s.Backup)
	require.NoError(t, err)
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Less(t, info.Size(), int64(1<<20))

	precious := filepath.Join(t.TempDir(), "precious")
	require.NoError(t, os.WriteFile(precious, []byte("precious"), 0o644))
	require.NoError(t, os.Symlink(precious, path+".partial"))
	_, err = BackupTo(path, true, s.Backup)
	require.ErrorContains(t, err, "copy.db.partial is in the way and no ordinary file")
	b, err := os.ReadFile(precious)
	require.NoError(t, err)
	assert.Equal(t, "precious", string(b))
}

// What comes to a path while the copy is made stays as well.
func TestAFileThatComesMeanwhileStays(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	path := filepath.Join(t.TempDir(), "copy.db")
	_, err := BackupTo(path, false, func(w io.Writer) (Tally, error) {
		require.NoError(t, os.WriteFile(path, []byte("somebody else's"), 0o644))
		return s.Backup(w)
	})
	require.ErrorIs(t, err, ErrExists)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "somebody else's", string(b))
	assert.NoFileExists(t, path+".partial")
}

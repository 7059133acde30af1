package store

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// somebody is an owner that the superuser can give files to. Who is not the superuser owns what it makes, and can give
// nothing away: then the owners in these tests are all the same, and the permissions are what is tested.
func somebody() (uid, gid int) {
	if os.Geteuid() == 0 {
		return 12345, 12346
	}
	return os.Getuid(), os.Getgid()
}

// made returns the permissions that a new file gets, which depend on who runs the test.
func made(t *testing.T) os.FileMode {
	t.Helper()
	f, err := os.OpenFile(filepath.Join(t.TempDir(), "made"), os.O_CREATE|os.O_WRONLY, 0o644)
	require.NoError(t, err)
	info, err := f.Stat()
	require.NoError(t, err)
	require.NoError(t, f.Close())
	return info.Mode().Perm()
}

func requireOwned(t *testing.T, path string, perm os.FileMode) {
	t.Helper()
	info, err := os.Stat(path)
	require.NoError(t, err)
	st := info.Sys().(*syscall.Stat_t)
	uid, gid := somebody()
	assert.Equal(t, perm, info.Mode().Perm(), path)
	assert.Equal(t, []int{uid, gid}, []int{int(st.Uid), int(st.Gid)}, path)
}

// theirs makes a data folder that is somebody's.
func theirs(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	uid, gid := somebody()
	require.NoError(t, os.Chown(dir, uid, gid))
	return dir
}

// Whatever the superuser does in somebody's data folder, the daemon, who is that somebody, can still open what is there;
// and nobody else can who could not before.
func TestWhatTakesTheStoresPlaceIsOwnedLikeIt(t *testing.T) {
	dir := theirs(t)
	lock := filepath.Join(dir, lockName)
	s := goldenStore(t, dir)
	requireOwned(t, s.Path(), made(t))
	requireOwned(t, lock, made(t))
	backup := filepath.Join(t.TempDir(), "copy.db")
	_, err := BackupTo(backup, false, s.Backup)
	require.NoError(t, err)

	require.NoError(t, os.Chmod(s.Path(), 0o600))
	require.NoError(t, s.Compact(t.Context()))
	requireOwned(t, s.Path(), 0o600)
	told, err := s.Repair(errors.New("a page makes no sense"))
	require.NoError(t, err)
	requireOwned(t, s.Path(), 0o600)
	requireOwned(t, told.SetAside, 0o600)
	require.NoError(t, s.Close())
	r, err := Restore(t.Context(), backup, dir, true)
	require.NoError(t, err)
	requireOwned(t, s.Path(), 0o600)
	requireOwned(t, r.SetAside, 0o600)
	requireOwned(t, lock, made(t))
	require.NoError(t, keepCopy(s.Path(), s.Path()+".kept"))
	requireOwned(t, s.Path()+".kept", 0o600)

	require.NoError(t, os.WriteFile(s.Path(), make([]byte, 5000), 0o600))
	s = open(t, dir, Options{})
	require.Len(t, s.Notices(), 1, "it was damaged beyond opening")
	requireOwned(t, s.Path(), 0o600)
}

// A store and a lock that were not there are the folder's owner's.
func TestANewStoreIsTheFoldersOwners(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	backup := filepath.Join(t.TempDir(), "copy.db")
	_, err := BackupTo(backup, false, s.Backup)
	require.NoError(t, err)
	dir := theirs(t)
	_, err = Restore(t.Context(), backup, dir, false)
	require.NoError(t, err)
	requireOwned(t, filepath.Join(dir, FileName), made(t))
	requireOwned(t, filepath.Join(dir, lockName), made(t))
}

// A migrated file is owned as the one that it was made of.
func TestAMigratedStoreIsOwnedLikeTheOldOne(t *testing.T) {
	dir := theirs(t)
	path := filepath.Join(dir, FileName)
	rebuild1(t, goldenFile, path)
	uid, gid := somebody()
	require.NoError(t, os.Chown(path, uid, gid))
	require.NoError(t, os.Chmod(path, 0o640))
	s := open(t, dir, Options{formats: laterFormats()})
	require.Len(t, s.Notices(), 1)
	requireOwned(t, path, 0o640)
	requireOwned(t, s.Notices()[0].SetAside, 0o640)
}

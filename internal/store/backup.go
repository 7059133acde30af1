package store

import (
	"errors"
	"fmt"
	"io"
	"os"
)

// ErrExists is returned where a file is in the way that nobody said may be replaced.
var ErrExists = errors.New("is there already")

// Backup writes a copy of the file as it stands, with all that was handed over before, while readings go on being
// written, and tells what the copy holds. It holds one read transaction for as long as w takes: meanwhile the file grows
// by what is committed. Readings that the card does not take are not in it.
func (s *Store) Backup(w io.Writer) (t Tally, err error) {
	if err := s.Commit(); errors.Is(err, ErrClosed) {
		return t, err
	}
	err = s.guarded(func() error {
		tx, err := s.begin()
		if err != nil {
			return err
		}
		defer func() { _ = tx.Rollback() }() // nothing was written
		if _, err = tx.WriteTo(w); err != nil {
			return err
		}
		t, err = tally(tx)
		return err
	})
	if err != nil {
		return t, fmt.Errorf("copy %s: %w", s.path, err)
	}
	return t, nil
}

// BackupClosed is Backup of the store in folder dir, which no process has open. It writes nothing there.
func BackupClosed(dir string, w io.Writer) (Tally, error) {
	s, err := openCopy(storeIn(dir))
	if err != nil {
		return Tally{}, err
	}
	defer func() { _ = s.db.Close() }() // nothing was written
	return s.Backup(w)
}

// BackupTo makes a file of what from writes, such as Backup. The file is brought to the card under another name, read
// back, checked, and held against what from says that it holds; only then does it get its name. A file that is there
// already stays unless replace is set, and then until the new one is sound. One backup at a time is made at a path.
func BackupTo(path string, replace bool, from func(io.Writer) (Tally, error)) (Tally, error) {
	if err := placeForBackup(path, replace); err != nil {
		return Tally{}, err
	}
	part, err := newPart(path)
	if err != nil {
		return Tally{}, fmt.Errorf("back up to %s: %w", path, err)
	}
	defer part.let()
	want, err := from(part.f)
	if err == nil {
		err = part.written()
	}
	if err == nil {
		err = verifyAs(part.path, want)
	}
	if err == nil {
		err = placeForBackup(path, replace) // the copy may have taken hours
	}
	if err != nil {
		_ = os.Remove(part.path) // it is no backup
		return want, fmt.Errorf("back up to %s: %w", path, err)
	}
	return want, putInPlace(part.path, path, "")
}

package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Held tells whether another process has the store in dir open: an error that wraps ErrInUse and names the process. A
// folder that is not there is held by nobody. It changes nothing.
func Held(dir string) error {
	f, err := os.Open(filepath.Join(dir, lockName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	err = lockFile(f)
	who := holder(f)
	_ = f.Close() // it lets go of the lock, if it got it
	if errors.Is(err, errHeld) {
		return inUse(filepath.Join(dir, FileName), who)
	}
	return err
}

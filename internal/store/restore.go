package store

import (
	"context"
	"fmt"
	"os"
)

// Restored tells what Restore did.
type Restored struct {
	Tally
	SetAside string // where the store that was there is now; "" if there was none
}

// Restore makes a backup the store of folder dir, which is made if it is not there. The backup is checked first, copied,
// and the copy read back and checked, before it gets the store's name. A store that is there already stays, and the error
// is ErrExists, unless replace is set: it is then set aside. A power cut leaves the old store or the new one.
func Restore(ctx context.Context, backup, dir string, replace bool) (r Restored, err error) {
	v, err := Verify(backup)
	if err == nil {
		err = v.Sound(backup)
	}
	if err != nil {
		return r, fmt.Errorf("restore: %w", err)
	}
	if err = os.MkdirAll(dir, 0o755); err != nil {
		return r, fmt.Errorf("restore: make the data folder: %w", err)
	}
	lock, err := holdFolder(dir, Options{}.withDefaults().OpenTimeout)
	if err != nil {
		return r, fmt.Errorf("restore: %w", err)
	}
	defer func() { _ = lock.Close() }() // it holds nothing but the folder
	path := storeIn(dir)
	if _, statErr := os.Lstat(path); statErr == nil {
		if !replace {
			return r, fmt.Errorf("restore: %s %w", path, ErrExists)
		}
		if r.SetAside, err = asideName(path, "replaced"); err != nil {
			return r, err
		}
	}
	if err = restoreCopy(ctx, backup, path, v.Tally); err == nil {
		err = putInPlace(newName(path), path, r.SetAside)
	}
	r.Tally = v.Tally
	return r, err
}

func restoreCopy(ctx context.Context, backup, path string, want Tally) error {
	err := clearLeftovers(path)
	if err == nil {
		err = copyFile(backup, newName(path))
	}
	if err == nil {
		likeStore(newName(path), path)
	}
	if err == nil {
		err = verifyAs(newName(path), want)
	}
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		_ = os.Remove(newName(path)) // or the next start does
		return fmt.Errorf("restore %s: %w", backup, err)
	}
	return nil
}

package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// syncFolder brings the names in the folder of a file to the card: a file that is synced is lost all the same at a power
// cut if the folder does not know it yet. The folder above is treated alike as far as it may be read, since Open may have
// made the folder. File systems that cannot do so say EINVAL or ENOTSUP, and keep the names as they can.
func syncFolder(path string) error {
	dir := filepath.Dir(path)
	f, err := os.Open(dir)
	if err == nil {
		err = f.Sync()
		_ = f.Close() // nothing was written through it
	}
	if err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, syscall.ENOTSUP) {
		return fmt.Errorf("bring the names in %s to the card: %w", dir, err)
	}
	if above, err := os.Open(filepath.Dir(dir)); err == nil {
		_ = above.Sync() // as far as it can
		_ = above.Close()
	}
	return nil
}

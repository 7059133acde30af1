//go:build linux || darwin || freebsd || netbsd || openbsd

package store

import (
	"errors"
	"os"
	"syscall"
)

// lockFile takes a lock that ends with the process.
func lockFile(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return errHeld
	}
	return err
}

// shareFile turns the lock into one that readers may have as well.
func shareFile(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB) }

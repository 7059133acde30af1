//go:build !(linux || darwin || freebsd || netbsd || openbsd)

package store

import "os"

// lockFile does nothing here: bbolt's own lock on its file is all that keeps two processes apart.
func lockFile(*os.File) error { return nil }

// shareFile does nothing where lockFile does nothing.
func shareFile(*os.File) error { return nil }

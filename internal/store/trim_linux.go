package store

import (
	"syscall"

	bolt "go.etcd.io/bbolt"
)

// letGo tells the kernel that this process needs none of the pages of the file that are mapped to it: they stay in the
// page cache as long as there is room. Without it, all that was ever read counts as the daemon's memory. The
// transaction holds the mapping in place.
func letGo(tx *bolt.Tx) {
	if start := tx.DB().Info().Data; start != 0 {
		// Advice: a kernel that refuses it loses nothing.
		_, _, _ = syscall.Syscall(syscall.SYS_MADVISE, start, uintptr(tx.Size()), syscall.MADV_DONTNEED)
	}
}

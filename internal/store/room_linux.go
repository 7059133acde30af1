package store

import "syscall"

// roomOn returns how many bytes are free for this process on the file system of a folder; false if nobody knows.
func roomOn(dir string) (free int64, known bool) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return 0, false
	}
	return int64(st.Bavail) * int64(st.Bsize), true
}

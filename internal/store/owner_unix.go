//go:build linux || darwin || freebsd || netbsd || openbsd

package store

import (
	"os"
	"path/filepath"
	"syscall"
)

// likeStore gives a file that is to take the store's place the permissions of the store. If the superuser makes it, as
// with a restore by hand, it gets the owner of the store too, or that of the folder if there is none yet: the daemon, which
// is somebody else, could not open it otherwise. What the file system cannot do is left undone.
func likeStore(path, store string) {
	model, err := os.Stat(store)
	if err != nil {
		LikeFolder(path)
		return
	}
	ownedAs(path, model)
	_ = os.Chmod(path, model.Mode().Perm()) // as far as it can
}

// LikeFolder gives a new file in a data folder the folder's owner if the superuser made it.
func LikeFolder(path string) {
	if model, err := os.Stat(filepath.Dir(path)); err == nil {
		ownedAs(path, model)
	}
}

// ownedAs gives a file the owner of another. Only the superuser can.
func ownedAs(path string, model os.FileInfo) {
	if st, ok := model.Sys().(*syscall.Stat_t); ok && os.Geteuid() == 0 {
		_ = os.Lchown(path, int(st.Uid), int(st.Gid)) // as far as it can
	}
}

//go:build !(linux || darwin || freebsd || netbsd || openbsd)

package store

// likeStore does nothing here: files get what the system gives them.
func likeStore(path, store string) {}

// LikeFolder does nothing here.
func LikeFolder(path string) {}

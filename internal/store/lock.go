package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

// lockName is the name of the file by which a process holds the data folder. bbolt locks its own file as well, but that
// file is exchanged for another by compaction, restoring and salvage; this one stays.
const lockName = "ductward.lock"

// lockRetry is how often a folder that is held is tried again.
const lockRetry = 50 * time.Millisecond

// errHeld is what lockFile returns when another process has the lock.
var errHeld = errors.New("held")

// holdFolder makes this process the only one that exchanges or writes the file in dir, until the returned file is
// closed or the process ends, however it ends. It waits for another process up to timeout, and then names it.
func holdFolder(dir string, timeout time.Duration) (*os.File, error) {
	path := filepath.Join(dir, lockName)
	_, missing := os.Lstat(path)
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("hold the data folder: %w", err)
	}
	if missing != nil {
		LikeFolder(path)
	}
	for end := time.Now().Add(timeout); ; time.Sleep(lockRetry) {
		if err = lockFile(f); !errors.Is(err, errHeld) || time.Now().After(end) {
			break
		}
	}
	if err == nil {
		_ = signLock(f) // a courtesy: on a card that is full the lock holds without it
		return f, nil
	}
	who := holder(f)
	_ = f.Close() // the first error says what is wrong
	if errors.Is(err, errHeld) {
		return nil, inUse(filepath.Join(dir, FileName), who)
	}
	return nil, fmt.Errorf("hold the data folder: %s: %w", path, err)
}

func inUse(path, who string) error {
	return fmt.Errorf("open %s: %w%s: stop the other ductward, or choose another data folder", path, ErrInUse, who)
}

// signLock writes this process's number, so that another one can name it.
func signLock(f *os.File) error {
	if err := f.Truncate(0); err != nil {
		return err
	}
	_, err := f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	return err
}

// holder names the process that holds a folder; "" if it does not say.
func holder(f *os.File) string {
	b, err := io.ReadAll(io.NewSectionReader(f, 0, 32))
	if pid, convErr := strconv.Atoi(string(bytes.TrimSpace(b))); err == nil && convErr == nil {
		return fmt.Sprintf(" (process %d)", pid)
	}
	return ""
}

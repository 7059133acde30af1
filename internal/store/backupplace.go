package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// ErrNoPlace is returned where a backup must not be made, even in the place of an older one.
var ErrNoPlace = errors.New("is no place for a backup")

// placeForBackup refuses what a backup must not take the place of.
func placeForBackup(path string, replace bool) error {
	info, err := os.Lstat(path)
	switch {
	case ofStore(path, info):
		// Whoever has the store open would go on writing to a file without a name, and all of that would be lost.
		return fmt.Errorf("%s %w: it belongs to the store of that folder: choose another name or folder", path, ErrNoPlace)
	case err != nil:
		return nil // what is wrong with the folder is told when the file is made
	case info.IsDir():
		return fmt.Errorf("%s %w: it is a folder: name a file in it", path, ErrNoPlace)
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s %w: it is no ordinary file: choose another name", path, ErrNoPlace)
	case !replace:
		return fmt.Errorf("%s %w", path, ErrExists)
	}
	return nil
}

// ofStore tells whether a path is a file of a data folder's store, be it there or not; info is what is there, nil if
// nothing is. A folder without a lock is none that anybody has open: a backup may be called as the store is.
func ofStore(path string, info os.FileInfo) bool {
	dir, name := filepath.Split(path)
	if _, err := os.Lstat(filepath.Join(dir, lockName)); err != nil {
		return false
	}
	for _, own := range []string{FileName, newName(FileName), halfAside(FileName), lockName} {
		there, err := os.Lstat(filepath.Join(dir, own))
		// Not every file system tells capitals from small letters, and some know a file by a short name too.
		if strings.EqualFold(name, own) || info != nil && err == nil && os.SameFile(info, there) {
			return true
		}
	}
	return false
}

// part is a file that becomes a backup once it is whole. It is locked, so that of two that are made at once the one
// neither removes nor renames what the other writes.
type part struct {
	path string
	f    *os.File
}

// newPart makes an empty part. One that a power cut left is written over.
func newPart(path string) (*part, error) {
	p := &part{path: path + ".partial"}
	f, err := os.OpenFile(p.path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	p.f = f
	if err := p.hold(); err != nil {
		p.let()
		return nil, err
	}
	return p, nil
}

// hold locks and empties the part, once it is sure that it is still the file of that name.
func (p *part) hold() error {
	// A file system without locks keeps nobody apart, and is none the worse for a backup.
	if err := lockFile(p.f); errors.Is(err, errHeld) {
		return p.another()
	}
	mine, err := p.f.Stat()
	if err != nil {
		return err
	}
	there, err := os.Lstat(p.path)
	switch {
	case err == nil && !there.Mode().IsRegular():
		return fmt.Errorf("%s is in the way and no ordinary file: remove it, or choose another name", p.path)
	case err != nil || !os.SameFile(there, mine): // the other one was done in between
		return p.another()
	}
	return p.f.Truncate(0)
}

func (p *part) another() error {
	return fmt.Errorf("%s is being written by another backup: wait for its end, or choose another name", p.path)
}

// written brings the part to the card, and lets others read it and nobody else write.
func (p *part) written() error {
	if err := p.f.Sync(); err != nil {
		return err
	}
	_ = shareFile(p.f) // as far as the file system can
	return nil
}

// let ends the hold on a part.
func (p *part) let() { _ = p.f.Close() } // what was written has been brought to the card

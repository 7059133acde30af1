package store

import (
	"errors"
	"fmt"
	"io"
	"os"
)

// asideName returns the name under which the file at path is set aside: what happened to it, and the day on which it was
// last written. A name that this same file has already is taken again: a power cut came in between.
func asideName(path, what string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", fmt.Errorf("set %s aside: %w", path, err)
	}
	name := fmt.Sprintf("%s.%s-%s", path, what, info.ModTime().UTC().Format("2006-01-02"))
	for i := 2; ; i++ {
		there, err := os.Lstat(name)
		if errors.Is(err, os.ErrNotExist) || err == nil && os.SameFile(there, info) {
			return name, nil
		}
		if err != nil {
			return "", fmt.Errorf("set %s aside: %w", path, err)
		}
		name = fmt.Sprintf("%s.%s-%s-%d", path, what, info.ModTime().UTC().Format("2006-01-02"), i)
	}
}

// keepAs gives the file at path a second name, so that it is kept when another takes the first. A file system without
// second names gets a copy.
func keepAs(path, aside string) error {
	if a, err := os.Lstat(aside); err == nil {
		if p, err := os.Lstat(path); err == nil && os.SameFile(a, p) {
			return nil
		}
	}
	if os.Link(path, aside) == nil {
		return syncFolder(path)
	}
	return keepCopy(path, aside)
}

// keepCopy is keepAs where a file has one name only.
func keepCopy(path, aside string) error {
	half := halfAside(path)
	err := copyFile(path, half)
	if err == nil {
		likeStore(half, path)
		err = os.Rename(half, aside)
	}
	if err != nil {
		_ = os.Remove(half) // or the next start does
		return fmt.Errorf("set %s aside: %w", path, err)
	}
	return syncFolder(path)
}

// halfAside is what a copy of the file is called that is to be set aside, until it is whole: a half must not be taken for
// the backup that it would have been.
func halfAside(path string) string { return path + ".aside" }

// copyFile copies a file to a new name and brings it to the card. A copy that fails is removed.
func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }() // nothing was written
	return writeFile(to, func(w io.Writer) error {
		_, err := io.Copy(w, in)
		return err
	})
}

// writeFile makes a new file of what f writes and brings it to the card. One that fails is removed.
func writeFile(path string, f func(io.Writer) error) error {
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	if err = f(out); err == nil {
		err = out.Sync()
	}
	if closeErr := out.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		_ = os.Remove(path) // it is of no use
	}
	return err
}

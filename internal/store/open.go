package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"
)

// Open opens the store in folder dir, and makes both if they are not there. A file that is damaged beyond opening is
// set aside, and a new one takes its place: Notices says so.
func Open(dir string, opt Options) (*Store, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("make the data folder: %w", err)
	}
	path := filepath.Join(dir, FileName)
	s, err := openFile(path, opt.withDefaults())
	var damage *damagedFileError
	if !errors.As(err, &damage) {
		return s, err
	}
	aside, moveErr := setAside(path)
	if moveErr != nil {
		return nil, fmt.Errorf("%w; it could not be set aside: %w", err, moveErr)
	}
	if s, err = openFile(path, opt.withDefaults()); err != nil {
		return nil, err
	}
	s.notices = append(s.notices, Notice{
		Text:     fmt.Sprintf("%v; it was set aside as %s and a new store was begun", damage, aside),
		SetAside: aside,
	})
	return s, nil
}

func openFile(path string, opt Options) (*Store, error) {
	db, err := openBolt(path, opt.OpenTimeout)
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return nil, fmt.Errorf("open %s: %w: stop the other ductward, or choose another data folder", path, ErrInUse)
	case errors.Is(err, bolterrors.ErrInvalid), errors.Is(err, bolterrors.ErrChecksum),
		errors.Is(err, bolterrors.ErrVersionMismatch), isStub(path, err):
		return nil, &damagedFileError{path, err}
	case err != nil:
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	db.AllocSize = growth
	s := &Store{path: path, opt: opt, db: db, byName: map[string]*channel{}, byID: map[uint32]*channel{},
		boots: map[uint32]time.Time{}, ends: map[uint32]*rec{}}
	if err := guard(path, func() error { return s.load() }); err != nil {
		_ = db.Close() // the first error says what is wrong
		return nil, err
	}
	return s, nil
}

// openBolt opens the file. bbolt panics over a list of free pages that makes no sense, and would keep the file locked.
func openBolt(path string, timeout time.Duration) (db *bolt.DB, err error) {
	var file *os.File
	defer func() {
		var damage *damagedFileError
		if errors.As(err, &damage) && file != nil {
			_ = file.Close() // the damage is the news
		}
	}()
	err = guard(path, func() (err error) {
		db, err = bolt.Open(path, 0o644, &bolt.Options{Timeout: timeout, PageSize: pageSize,
			FreelistType: bolt.FreelistMapType,
			OpenFile: func(name string, flag int, mode os.FileMode) (*os.File, error) {
				file, err = os.OpenFile(name, flag, mode)
				return file, err
			}})
		return err
	})
	return db, err
}

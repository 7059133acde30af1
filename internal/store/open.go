package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"
)

// storeIn returns the path of the store in a folder.
func storeIn(dir string) string { return filepath.Join(dir, FileName) }

// Open opens the store in folder dir, and makes both if they are not there. One process at a time has a folder: another
// gets ErrInUse. A file of an older format is migrated, and the old one kept beside it. A file that is damaged beyond
// opening is set aside, and what can be salvaged of it begins a new one. Notices says so of both.
func Open(dir string, opt Options) (*Store, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("make the data folder: %w", err)
	}
	opt = opt.withDefaults()
	lock, err := holdFolder(dir, opt.OpenTimeout)
	if err != nil {
		return nil, err
	}
	_, missing := os.Lstat(storeIn(dir))
	s, err := openHeld(storeIn(dir), opt)
	if err != nil {
		_ = lock.Close() // the first error says what is wrong
		return nil, err
	}
	if missing != nil {
		LikeFolder(storeIn(dir))
	}
	s.lock = lock
	return s, nil
}

// openHeld opens the file at path, whose folder is held, by whatever way it takes.
func openHeld(path string, opt Options) (*Store, error) {
	if err := clearLeftovers(path); err != nil {
		return nil, err
	}
	var told []Notice
	s, err := openFile(path, opt)
	var damage *damagedFileError
	if errors.As(err, &damage) {
		n, failed := salvage(path, opt, damage)
		if failed != nil {
			return nil, failed
		}
		told = append(told, n)
		s, err = openFile(path, opt)
	}
	var older *olderError
	if errors.As(err, &older) {
		n, failed := migrate(path, opt, older)
		if failed != nil {
			return nil, failed
		}
		told = append(told, n)
		s, err = openFile(path, opt)
	}
	if err != nil {
		return nil, err
	}
	s.notices = append(told, s.notices...)
	return s, nil
}

func openFile(path string, opt Options) (*Store, error) {
	if err := opt.bounds.opens(path); err != nil {
		return nil, err
	}
	db, err := openBolt(path, opt.OpenTimeout, *opt.bounds)
	if errors.Is(err, bolterrors.ErrTimeout) {
		return nil, inUse(path, "")
	}
	if err != nil {
		return nil, asDamage(path, err)
	}
	s := &Store{path: path, opt: opt, bounds: *opt.bounds, named: true, patience: turnPatience, room: roomOn, db: db, byName: map[string]*channel{},
		byID: map[uint32]*channel{}, boots: map[uint32]time.Time{}, ends: map[uint32]*rec{}}
	if err := guard(path, func() error { return s.load() }); err != nil {
		_ = db.Close() // the first error says what is wrong
		return nil, err
	}
	return s, nil
}

// asDamage tells apart what is wrong with the file and what is wrong with opening it.
func asDamage(path string, err error) error {
	if errors.Is(err, bolterrors.ErrInvalid) || errors.Is(err, bolterrors.ErrChecksum) ||
		errors.Is(err, bolterrors.ErrVersionMismatch) || isStub(path, err) {
		return &damagedFileError{path, err}
	}
	return fmt.Errorf("open %s: %w", path, err)
}

// openBolt opens the file, with room in memory to grow. Where addresses are short, as under a limit on them, it does with
// less: then a commit for which the file must be mapped anew waits for every reader.
func openBolt(path string, timeout time.Duration, b bounds) (*bolt.DB, error) {
	db, err := openAhead(path, timeout, b)
	if errors.Is(err, syscall.ENOMEM) && b.ahead > ahead32 {
		b.ahead = ahead32
		db, err = openAhead(path, timeout, b)
	}
	return db, err
}

// openAhead opens the file. bbolt panics over a list of free pages that makes no sense, and would keep the file locked.
func openAhead(path string, timeout time.Duration, b bounds) (db *bolt.DB, err error) {
	var file *os.File
	defer func() {
		var damage *damagedFileError
		if errors.As(err, &damage) && file != nil {
			_ = file.Close() // the damage is the news
		}
	}()
	err = guard(path, func() (err error) {
		db, err = bolt.Open(path, 0o644, &bolt.Options{Timeout: timeout, PageSize: pageSize,
			FreelistType: bolt.FreelistMapType, InitialMmapSize: int(b.ahead), MaxSize: int(b.ceiling),
			OpenFile: func(name string, flag int, mode os.FileMode) (*os.File, error) {
				file, err = os.OpenFile(name, flag, mode)
				return file, err
			}})
		return err
	})
	if err == nil {
		db.AllocSize = 8 * pageSize
	}
	return db, err
}

// grows sets by how much the file grows in this transaction, should it have to: a small one by as much as it has.
func grows(tx *bolt.Tx) {
	tx.DB().AllocSize = int(min(max(tx.Size(), 8*pageSize), growth))
}

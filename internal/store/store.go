package store

import (
	"errors"
	"fmt"
	"math/bits"
	"os"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/reading"
	"ductward/internal/steady"
)

// FileName is the name of the file within the data folder.
const FileName = "ductward.db"

const (
	format   = 1
	pageSize = 4096    // some 64-bit board kernels use 16 KiB pages, which would make each commit four times as large
	growth   = 1 << 20 // bytes by which a large file grows; the default of 16 MiB would lie empty for years
	fill     = 0.95    // keys of one channel come in order, so a page that is left will not grow
)

// Options tune a store. The zero value suits the daemon.
type Options struct {
	// OpenTimeout is how long to wait for another process to let go of the file; 0 means one second.
	OpenTimeout time.Duration
	// MaxOpen is the most readings held in memory before they are sealed without being asked; 0 means 196,608 (11 MB).
	MaxOpen int
	// KeepRaw and KeepMinutes are how long Prune keeps raw readings and minute roll-ups; 0 keeps them for good. Hour and
	// day roll-ups are always kept.
	KeepRaw, KeepMinutes time.Duration

	formats *formats // others than the program's, for tests
	bounds  *bounds  // other than this machine's, for tests
}

func (o Options) withDefaults() Options {
	if o.OpenTimeout <= 0 {
		o.OpenTimeout = time.Second
	}
	if o.MaxOpen <= 0 {
		o.MaxOpen = 3 << 16
	}
	if o.formats == nil {
		o.formats = &known
	}
	if o.bounds == nil {
		here := boundsFor(bits.UintSize)
		o.bounds = &here
	}
	return o
}

// ErrInUse is returned by Open when another process holds the file.
var ErrInUse = errors.New("another process is using it")

// ErrNewer is returned by Open when the file was written by a later program; the file is untouched.
var ErrNewer = errors.New("was written by a newer ductward")

// ErrClosed is returned by every call after Close.
var ErrClosed = errors.New("the store is closed")

// ErrOwed is wrapped by the error of what is known and will be written as soon as the card takes it.
var ErrOwed = errors.New("is held in memory until it can be written")

// ErrFull is returned by Append when readings could not be committed for so long that memory for them is used up. The
// reading that it came with is lost.
var ErrFull = errors.New("no room in memory for more readings until they can be written")

// Notice is something that whoever looks after the shop should know about the file, such as that it was damaged.
type Notice struct {
	Text string
	// SetAside is where a file is now in whose place another came; "" if none did.
	SetAside string
	// Damaged tells that it was set aside because it was damaged.
	Damaged bool
}

// Store is an open store. It is safe for concurrent use.
type Store struct {
	path   string
	opt    Options
	bounds bounds
	lock   *os.File // holds the folder; nil of a copy that is only read

	file sync.RWMutex // held while db is exchanged, and by a reader for as long as it takes to begin
	db   *bolt.DB

	write sync.Mutex          // held by whoever writes to the file; taken before mu
	coder coder               // under write
	piece uint64              // number of the next piece; under write
	bulk  bool                // nothing is promised; under write
	named bool                // the folder on the card knows the file by its name; under write
	owed  map[uint32]struct{} // boots whose record could not be written yet, as boots has it; under write

	rewriting sync.Mutex                       // held while a new file is written; taken before write
	patience  time.Duration                    // of compaction for its turn to write
	damage    atomic.Pointer[damagedFileError] // met by a transaction
	closing   sync.WaitGroup                   // files that are not in use any more
	room      func(dir string) (int64, bool)   // bytes that are free on the card; false: not known

	mu      sync.Mutex
	closed  bool
	byName  map[string]*channel
	byID    map[uint32]*channel
	boots   map[uint32]time.Time // zero: not placed
	open    int                  // readings in memory
	epoch   bootDay              // of the first open reading
	current bootDay              // of the newest arrival
	ends    map[uint32]*rec      // last reading in stored order of each boot that was appended to
	end     *rec                 // that of the boot that was appended to last
	sealing uint64               // beginnings and ends of sealing so far
	retry   int                  // readings that must come before a failed commit is tried again by Append
	doubles uint64
	looks   atomic.Uint32 // transactions so far
	runs    []steady.Run  // not yet committed
	notices []Notice

	published published
}

// bootDay is a day of monotonic time of one boot.
type bootDay struct {
	boot uint32
	day  int64
}

// channel is what memory holds of one channel.
type channel struct {
	id     uint32
	name   string
	saved  bool                // its name is in the file; under write
	open   held                // in order of arrival
	done   int                 // so many of them are in a piece
	seen   map[Cursor]struct{} // of the open ones, where sequences do not rise; nil: they do
	latest rec
	any    bool // latest is set
	late   bool // among the open ones are some that may be sealed already
	hint   float64
}

// Notices returns what there is to tell about the file, oldest first.
func (s *Store) Notices() []Notice {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Notice(nil), s.notices...)
}

func (s *Store) notice(format string, args ...any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	const most = 100 // a file full of damage must not fill memory with words about it
	if len(s.notices) < most {
		s.notices = append(s.notices, Notice{Text: fmt.Sprintf(format, args...)})
	}
}

// Doubles returns how many readings were dropped because they were there already.
func (s *Store) Doubles() uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.doubles
}

// Path returns the path of the file.
func (s *Store) Path() string { return s.path }

// Size returns the size of the file in bytes.
func (s *Store) Size() (int64, error) {
	info, err := os.Stat(s.path)
	if err != nil {
		return 0, fmt.Errorf("size of the store: %w", err)
	}
	return info.Size(), nil
}

// Latest returns the newest reading of every channel, by name.
func (s *Store) Latest() map[string]reading.Reading {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := make(map[string]reading.Reading, len(s.byName))
	for name, ch := range s.byName {
		if ch.any {
			out[name] = ch.latest.reading(name, s.boots[ch.latest.boot])
		}
	}
	return out
}

// Close commits what is open and closes the file. The readings that could not be written are lost with the error.
func (s *Store) Close() error {
	s.write.Lock()
	defer s.write.Unlock()
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return ErrClosed
	}
	s.mu.Unlock()
	commitErr := s.commit(false)
	if s.bulk {
		commitErr = errors.Join(commitErr, s.db.Sync())
	}
	s.mu.Lock()
	s.closed = true
	s.mu.Unlock()
	closeErr := s.db.Close()
	s.closing.Wait()
	if s.lock != nil {
		closeErr = errors.Join(closeErr, s.lock.Close())
	}
	if closeErr != nil {
		return errors.Join(commitErr, fmt.Errorf("close %s: %w", s.path, closeErr))
	}
	return commitErr
}

// usable returns ErrClosed after Close. The caller holds write.
func (s *Store) usable() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return ErrClosed
	}
	return nil
}

package store

import (
	"errors"
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"
)

// bbolt maps the whole file into memory. A process of 32 bits can map 2 GB at the very most, and only if no library or
// stack lies in the way; bbolt maps in powers of two up to 1 GiB and the rest at once. So a file must stay below 1 GiB
// there: ten years of sixteen channels at one reading a second take about that. What is left between limit and ceiling
// is for letting go of old readings, which writes before it frees.
const (
	limit32   = 1<<30 - 64<<20
	ceiling32 = 1 << 30
)

// ahead is how much of memory is set aside for mapping a file that grows, so that growth never has to wait for readers,
// nor readers for it. It takes addresses, not memory.
const (
	ahead64 = 16 << 30
	ahead32 = 64 << 20
)

// bounds are what a file may be on a machine of a word size.
type bounds struct {
	limit   int64 // from here on only what frees space is written; 0: none
	ceiling int64 // beyond it no file is opened; 0: none
	ahead   int64
}

// boundsFor returns the bounds of a machine with words of so many bits.
func boundsFor(wordBits int) bounds {
	if wordBits < 64 {
		return bounds{limit32, ceiling32, ahead32}
	}
	return bounds{ahead: ahead64}
}

// ErrLimit is returned by whatever writes when the file has reached the size that this machine can map.
var ErrLimit = errors.New("the store has reached the size that a board of 32 bits can use")

// remedy says what can be done about a file that is too large.
const remedy = "keep raw readings for a shorter time (--keep-raw), or move the data folder to a machine of 64 bits"

// opens refuses a file that is too large to be mapped, before anybody tries.
func (b bounds) opens(path string) error {
	info, err := os.Stat(path)
	if err != nil || b.ceiling == 0 || info.Size() <= b.ceiling {
		return nil // a file that is not there is made
	}
	return fmt.Errorf("open %s: it has %d MB: %w (%d MB): open it on a machine of 64 bits, let go of old readings with "+
		"\"ductward run --keep-raw\" until it has been compacted there, and bring it back", path, info.Size()>>20, ErrLimit,
		b.ceiling>>20)
}

// writes refuses to write to a file whose pages are all in use up to the limit.
func (s *Store) writes(tx *bolt.Tx) error {
	if s.bounds.limit == 0 {
		return nil
	}
	if used := tx.Size() - s.freeBytes(); used >= s.bounds.limit {
		return fmt.Errorf("%w (%d MB): %s", ErrLimit, s.bounds.limit>>20, remedy)
	}
	return nil
}

// freeBytes returns how much of the file is free to be written on.
func (s *Store) freeBytes() int64 {
	st := s.db.Stats()
	return int64(st.FreePageN+st.PendingPageN) * pageSize
}

// atCeiling names what bbolt says when the file may not grow any more.
func atCeiling(err error) error {
	if errors.Is(err, bolterrors.ErrMaxSizeReached) {
		return fmt.Errorf("%w: %s", ErrLimit, remedy)
	}
	return err
}

// Space is how much room a file takes.
type Space struct {
	Size  int64 // of the file, bytes
	Free  int64 // of it, to be written on again
	Limit int64 // what this machine can use; 0: as much as there is
}

// Space returns how much room the file takes.
func (s *Store) Space() (Space, error) {
	size, err := s.Size()
	if err != nil {
		return Space{}, err
	}
	s.file.RLock()
	defer s.file.RUnlock()
	return Space{Size: size, Free: s.freeBytes(), Limit: s.bounds.limit}, nil
}

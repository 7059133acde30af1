package store

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"time"

	"ductward/internal/reading"
)

// before is how far before the first reading of a file its boot is placed, so that rows that are out of order still
// have monotonic time above zero.
const before = 366 * 24 * time.Hour

// sameBoot is how far two placements of a boot may lie apart and still be those of the same boot: an export rounds
// nothing, so this is for a boot that was placed again in between by a clock that had been corrected.
const sameBoot = 2 * time.Second

// ImportResult tells what became of the readings of a file.
type ImportResult struct {
	Readings, Doubles, Refused int
	FirstRefusal               error
}

// Import takes readings from a file and commits them. A reading with a boot keeps it, and goes with the boot of that
// number in this store if both are placed alike or neither is there; else it gets a new one, as does every reading with
// no boot. So what another store exported comes in whole, and importing it again adds nothing. A reading that cannot be
// stored is counted, the first with its reason, and the others go on; an error of rs ends the import.
func (s *Store) Import(ctx context.Context, rs iter.Seq2[reading.Reading, error]) (res ImportResult, err error) {
	doubles := s.Doubles()
	im := importer{s: s, boots: map[uint32]uint32{}}
	for r, err := range rs {
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return res, errors.Join(fmt.Errorf("import readings: %w", err), s.Commit())
		}
		if err = im.place(&r); err == nil {
			err = s.Append([]reading.Reading{r})
		}
		if err != nil {
			if res.Refused++; res.Refused == 1 {
				res.FirstRefusal = err
			}
			continue
		}
		res.Readings++
	}
	// Sealing is what finds the doubles of older readings, so all of it must be done before they are counted.
	if err := s.Seal(); err != nil {
		return res, fmt.Errorf("import readings: %w", err)
	}
	res.Doubles = int(s.Doubles() - doubles)
	res.Readings -= res.Doubles
	return res, nil
}

type importer struct {
	s     *Store
	boots map[uint32]uint32 // of the file → of the store
	zero  time.Time         // placement of the boot for readings without one
}

// place gives r a boot of this store, and monotonic time if it has none.
func (im *importer) place(r *reading.Reading) (err error) {
	boot, known := im.boots[r.Boot]
	if !known {
		if boot, err = im.boot(r); err != nil {
			return err
		}
		im.boots[r.Boot] = boot
	}
	if r.Boot == 0 {
		r.Mono = r.Time.Sub(im.zero)
	} else if !r.Time.IsZero() {
		if err := im.placeLate(boot, r); err != nil {
			return err
		}
	}
	r.Boot = boot
	return nil
}

// placeLate places a boot whose first readings in the file had no time.
func (im *importer) placeLate(boot uint32, r *reading.Reading) error {
	im.s.mu.Lock()
	zero := im.s.boots[boot]
	im.s.mu.Unlock()
	if !zero.IsZero() {
		return nil
	}
	return im.s.PlaceBoot(boot, r.Time.Add(-r.Mono))
}

// boot finds or makes the boot of this store for the first reading that has its boot.
func (im *importer) boot(r *reading.Reading) (uint32, error) {
	var zero time.Time
	switch {
	case r.Boot != 0 && !r.Time.IsZero():
		zero = r.Time.Add(-r.Mono)
	case r.Boot == 0:
		if r.Time.IsZero() {
			return 0, fmt.Errorf("channel %q: a reading has neither a time nor a boot", r.Channel)
		}
		zero = r.Time.Add(-before).Round(0)
		im.zero = zero
		if boot, ok := im.placedAt(zero); ok {
			return boot, nil // this file came in before
		}
	}
	if r.Boot != 0 {
		im.s.mu.Lock()
		here, taken := im.s.boots[r.Boot]
		im.s.mu.Unlock()
		if taken && here.IsZero() == zero.IsZero() && here.Sub(zero).Abs() <= sameBoot {
			return r.Boot, nil
		}
		if !taken {
			return r.Boot, im.s.addBoot(r.Boot, zero)
		}
	}
	boot, err := im.s.NewBoot()
	if err == nil && !zero.IsZero() {
		err = im.s.PlaceBoot(boot, zero)
	}
	return boot, err
}

// placedAt returns the boot that is placed at zero, to the nanosecond.
func (im *importer) placedAt(zero time.Time) (uint32, bool) {
	for _, b := range im.s.Boots() {
		if !b.Zero.IsZero() && b.Zero.Equal(zero) {
			return b.ID, true
		}
	}
	return 0, false
}

package store

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"ductward/internal/reading"
)

// longestName bounds a channel's name, so that every key and piece stays small.
const longestName = 255

// Append takes readings into memory; Commit brings them to the card. Time is ignored: the boot's placement gives it. It
// writes by itself only when memory for open readings is used up. The error names every reading that was refused; the
// others are taken.
func (s *Store) Append(rs []reading.Reading) error {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return ErrClosed
	}
	var errs []error
	for i := range rs {
		if err := s.take(&rs[i]); err != nil {
			errs = append(errs, err)
		}
	}
	full := s.open >= s.opt.MaxOpen && s.open >= s.retry
	s.mu.Unlock()
	if full {
		if err := s.Commit(); err != nil {
			errs = append(errs, err)
			s.mu.Lock()
			s.retry = s.open + s.opt.MaxOpen/16
			s.mu.Unlock()
		}
	}
	return errors.Join(errs...)
}

// take adds one reading to its channel. The caller holds mu.
func (s *Store) take(r *reading.Reading) error {
	ch := s.byName[r.Channel]
	if err := validate(r, ch != nil); err != nil {
		return err
	}
	if s.open >= 2*s.opt.MaxOpen {
		return fmt.Errorf("channel %q: %w", r.Channel, ErrFull)
	}
	if _, known := s.boots[r.Boot]; !known {
		return fmt.Errorf("channel %q: boot %d is not known: take a number from NewBoot", r.Channel, r.Boot)
	}
	if ch == nil {
		ch = s.newChannel(r.Channel)
	}
	s.hold(ch, rec{mono: int64(r.Mono), seq: r.Seq, val: r.Value, sd: r.SD, span: int64(r.Span), n: uint32(r.N),
		boot: r.Boot, q: uint8(r.Quality)})
	return nil
}

// newChannel gives a channel the next number. The caller holds mu.
func (s *Store) newChannel(name string) *channel {
	ch := &channel{id: uint32(len(s.byID) + 1), name: name}
	s.byName[name], s.byID[ch.id] = ch, ch
	return ch
}

// hold puts a reading among the open ones, unless it is one of them already. The caller holds mu.
func (s *Store) hold(ch *channel, r rec) {
	if ch.open.len() > 0 && (ch.seen != nil || ch.open.newest().boot != r.boot || ch.open.newest().seq >= r.seq) {
		// Sequences do not rise here, so only a look at all of them tells a double from a late reading.
		if ch.isOpen(r) {
			s.doubles++
			return
		}
	}
	at := r.dayOfBoot()
	if s.open == 0 {
		s.epoch = at
	}
	s.current = at
	s.open++
	if s.end == nil || s.end.boot != r.boot {
		if s.end = s.ends[r.boot]; s.end == nil {
			s.end = new(rec)
			s.ends[r.boot] = s.end
		}
	}
	if s.end.compare(&r) < 0 {
		*s.end = r
	}
	ch.late = ch.late || ch.any && ch.latest.compare(&r) >= 0
	ch.open.push(r)
	if !ch.any || ch.latest.compare(&r) < 0 {
		ch.latest, ch.any = r, true
	}
}

// remember forgets which sealed readings were seen; of what is still open, if any, it knows.
func (ch *channel) remember() {
	had := ch.seen != nil
	ch.seen = nil
	if had && ch.open.len() > 0 {
		ch.seen = make(map[Cursor]struct{}, ch.open.len())
		for _, o := range ch.open.all() {
			ch.seen[o.cursor()] = struct{}{}
		}
	}
}

// isOpen tells whether a reading of r's boot, time and sequence is open already, and remembers r's.
func (ch *channel) isOpen(r rec) bool {
	if ch.seen == nil {
		ch.seen = make(map[Cursor]struct{}, ch.open.len()+1)
		for _, o := range ch.open.all() {
			ch.seen[o.cursor()] = struct{}{}
		}
	}
	key := r.cursor()
	if _, ok := ch.seen[key]; ok {
		return true
	}
	ch.seen[key] = struct{}{}
	return false
}

// validate stops at the door what no reading can be.
func validate(r *reading.Reading, knownChannel bool) error {
	switch {
	case !knownChannel && (r.Channel == "" || len(r.Channel) > longestName || strings.ContainsRune(r.Channel, 0)):
		return fmt.Errorf("channel %q: a name has 1 to %d bytes, none of them 0", r.Channel, longestName)
	case math.IsInf(r.Value, 0) || math.IsNaN(r.Value) && !reading.IsSwitch(r.Channel):
		return fmt.Errorf("channel %q: value %g is not a number that a sensor can read", r.Channel, r.Value)
	case math.IsInf(r.SD, 0) || r.SD < 0:
		return fmt.Errorf("channel %q: standard deviation %g is not 0 or more", r.Channel, r.SD)
	case r.Boot == 0:
		return fmt.Errorf("channel %q: boot 0 marks readings from a file: use Import, which gives them a boot", r.Channel)
	case r.Mono < 0 || r.Span < 0:
		return fmt.Errorf("channel %q: monotonic time %v or span %v is below 0", r.Channel, r.Mono, r.Span)
	case r.N < 0 || uint64(r.N) > math.MaxUint32:
		return fmt.Errorf("channel %q: %d samples are outside 0 to %d", r.Channel, r.N, uint32(math.MaxUint32))
	}
	return nil
}

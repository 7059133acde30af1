package hardware

import (
	"errors"
	"math"
	"strconv"
	"time"

	"ductward/internal/clock"
	"ductward/internal/reading"
)

var errNotFinite = errors.New("the value is not a finite number")

// sensor polls one chip on an I²C bus.
type sensor struct {
	health
	interval time.Duration
	way      way
	clock    clock.Clock
	chip     chip
	supply   *supply // of its bus; nil: it cannot be switched
	sign     float64 // −1 where the tubes are the other way round
	stuck    stuckWatch
	ready    bool          // the chip is set up
	begun    bool          // it measures for the next Read
	done     time.Duration // monotonic, when it will have measured
	heard    bool          // counts is of an answer
	counts   int32
}

func (s *sensor) Channel() string         { return s.channel }
func (s *sensor) Interval() time.Duration { return s.interval }

// Raw is the chip's count.
func (s *sensor) Raw() string {
	if !s.heard {
		return ""
	}
	return strconv.Itoa(int(s.counts))
}

// Start lets the chip measure, if it is one that does so when it is told, and all is well with it; see Starter.
func (s *sensor) Start() {
	c, ok := s.chip.(starter)
	if !ok || !s.ready || s.failures > 0 {
		return
	}
	s.begun = c.start() == nil
	s.done = s.clock.Mono() + c.takes()
}

// Read measures once; see Poller.
func (s *sensor) Read() (float64, reading.Quality, error) {
	now := s.clock.Mono()
	if s.resting(now) {
		return s.answer()
	}
	s.heard = false
	pa, nearEnd, code, err := s.attempt()
	if err != nil {
		s.failed(now, code, err)
		s.supply.revive(now)
		return s.answer()
	}
	if s.failures > 0 {
		s.well(now)
	}
	if nearEnd {
		return s.sign * pa, reading.Uncertain, nil
	}
	return s.sign * pa, reading.Good, nil
}

// tries is how often a part is asked within one Read, with a pause between: a single disturbance on the wires costs no
// reading. Some boards do not carry the first transfer after the bus has been idle, so that a second one comes before
// the part is set up again, which would cost a thermal part the mean that it has gathered.
const (
	tries = 3
	pause = time.Millisecond
)

// attempt measures. A part that is known to be away is asked once only, from the beginning.
func (s *sensor) attempt() (float64, bool, Code, error) {
	for try := 1; ; try++ {
		pa, nearEnd, code, err := s.once()
		if err == nil {
			return pa, nearEnd, "", nil
		}
		passing := code == NotAnswering || code == BadCRC
		if !passing || try == tries || s.wait > 0 {
			// Whatever the trouble was, the part may have lost its supply meanwhile: begin again from the beginning,
			// except where it plainly measures.
			s.ready = s.ready && (code == Saturated || code == Stuck)
			return 0, false, code, err
		}
		if try == tries-1 {
			s.ready = false
		}
		s.clock.Sleep(pause)
	}
}

func (s *sensor) once() (float64, bool, Code, error) {
	if !s.ready {
		s.begun = false
		if code, err := s.setUp(); err != nil {
			return 0, false, code, err
		}
	}
	counts, pa, nearEnd, err := s.measure()
	if err != nil {
		code := s.codeOf(err)
		s.heard, s.counts = code == Saturated || code == LatchedUp, counts
		return 0, false, code, err
	}
	s.heard, s.counts = true, counts
	if math.IsNaN(pa) || math.IsInf(pa, 0) {
		return 0, false, ChipError, errNotFinite
	}
	if err := s.stuck.see(counts, pa); err != nil {
		return 0, false, Stuck, err
	}
	return pa, nearEnd, "", nil
}

// measure fetches what the chip has measured since Start, or lets it measure now.
func (s *sensor) measure() (counts int32, pa float64, nearEnd bool, err error) {
	if !s.begun {
		return s.chip.read()
	}
	s.begun = false
	if left := s.done - s.clock.Mono(); left > 0 {
		s.clock.Sleep(left)
	}
	return s.chip.(starter).fetch()
}

// setUp asks for the bus anew each time: it may have been missing, or have been opened again.
func (s *sensor) setUp() (Code, error) {
	if err := s.supply.on(); err != nil {
		return NoPin, err
	}
	bus, err := s.way.open()
	if err != nil {
		return NoBus, err
	}
	if err := s.chip.setUp(bus); err != nil {
		return s.codeOf(err), err
	}
	s.ready = true
	return "", nil
}

func (s *sensor) codeOf(err error) Code {
	if code, ok := s.chip.code(err); ok {
		return code
	}
	return busCode(err)
}

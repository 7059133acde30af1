package hardware

import (
	"errors"
	"math"
	"time"

	"ductward/internal/clock"
	"ductward/internal/reading"
)

var errNotFinite = errors.New("the value is not a finite number")

// sensor polls one chip on an I²C bus.
type sensor struct {
	health
	interval time.Duration
	busName  string
	buses    Buses
	clock    clock.Clock
	chip     chip
	sign     float64 // −1 where the tubes are the other way round
	stuck    stuckWatch
	ready    bool // the chip is set up
}

func (s *sensor) Channel() string         { return s.channel }
func (s *sensor) Interval() time.Duration { return s.interval }

// Read measures once; see Poller.
func (s *sensor) Read() (float64, reading.Quality, error) {
	now := s.clock.Mono()
	if s.resting(now) {
		return s.answer()
	}
	pa, nearEnd, code, err := s.attempt()
	if err != nil {
		return s.failed(now, code, err)
	}
	if s.failures > 0 {
		s.well(now)
	}
	if nearEnd {
		return s.sign * pa, reading.Uncertain, nil
	}
	return s.sign * pa, reading.Good, nil
}

// attempt measures, with one more try at once after a failure that a single disturbance on the wires may have made, or
// that setting the part up again may heal.
func (s *sensor) attempt() (float64, bool, Code, error) {
	pa, nearEnd, code, err := s.once()
	if code == BadCRC || (code == NotAnswering && s.wait == 0) {
		pa, nearEnd, code, err = s.once()
	}
	return pa, nearEnd, code, err
}

func (s *sensor) once() (float64, bool, Code, error) {
	if !s.ready {
		if code, err := s.setUp(); err != nil {
			return 0, false, code, err
		}
	}
	counts, pa, nearEnd, err := s.chip.read()
	if err != nil {
		code := s.codeOf(err)
		// Whatever the chip's trouble was, it may have lost its supply meanwhile: begin again from the beginning,
		// except where it plainly measures.
		s.ready = code == Saturated
		return 0, false, code, err
	}
	if math.IsNaN(pa) || math.IsInf(pa, 0) {
		return 0, false, ChipError, errNotFinite
	}
	if err := s.stuck.see(counts, pa); err != nil {
		return 0, false, Stuck, err
	}
	return pa, nearEnd, "", nil
}

// setUp asks for the bus anew each time: it may have been missing, or have been opened again.
func (s *sensor) setUp() (Code, error) {
	bus, err := s.buses.I2C(s.busName)
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

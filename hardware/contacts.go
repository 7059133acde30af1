package hardware

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"ductward/hardware/switchpin"
	"ductward/internal/clock"
	"ductward/internal/reading"
)

// moving is how long a gate or a selector may be at none of its contacts before it is a fault: a hand moves it in a second
// or two, and one that is left half open should be told. Common practice, no source.
const moving = 30 * time.Second

// places is what the contacts say of which one is closed at most.
type places struct {
	at      []float64 // the position at which each contact is closed
	nowhere float64   // that at which none is; NaN: it is no position
	none    Code      // the fault where none is closed for too long
	errNone error
	both    Code // and where two are closed at once
	errBoth func(i, j int) error
}

// endPlaces are those of a gate with a contact at its open and one at its shut end.
func endPlaces() places {
	return places{at: []float64{1, 0}, nowhere: math.NaN(),
		none: Between, errNone: errors.New("neither the contact at its open end nor the one at its shut end is closed"),
		both: BothEnds, errBoth: func(int, int) error { return errors.New("the contacts at both ends are closed at once") }}
}

// portPlaces are those of a selector with a switch at each port. A hose on no machine joins no port, which is 0. A
// switch-over piece always joins one, so that none of them is no position.
func portPlaces(ports int, hose bool) places {
	p := places{nowhere: math.NaN(),
		none: NoPort, errNone: errors.New("the switch of none of its ports is closed"),
		both: TwoPorts, errBoth: func(i, j int) error {
			return fmt.Errorf("the switches of ports %d and %d are closed at once", i+1, j+1)
		}}
	if hose {
		p.nowhere = 0
	}
	for i := range ports {
		p.at = append(p.at, float64(i+1))
	}
	return p
}

// contacts polls a gate or a selector by several contacts, of which one is closed at most.
type contacts struct {
	health
	pinNames  []string // in the order of the places
	activeLow bool
	debounce  time.Duration
	places    places
	buses     Buses
	clock     clock.Clock

	at    []*switchpin.Switch // nil until the pins were found
	left  time.Duration       // monotonic, when it was first seen at none
	apart bool                // it is at none
}

func (p *contacts) Channel() string         { return p.channel }
func (p *contacts) Interval() time.Duration { return switchInterval }

// Raw is the level of all pins.
func (p *contacts) Raw() string {
	levels := make([]string, len(p.at))
	for i, s := range p.at {
		if s == nil {
			return ""
		}
		levels[i] = strings.ToLower(s.Level().String())
	}
	return strings.Join(levels, "/")
}

// Read samples all contacts; see Poller. At none of them, where that is no position, it returns NaN, and after a while a
// fault.
func (p *contacts) Read() (float64, reading.Quality, error) {
	now := p.clock.Mono()
	if p.resting(now) {
		return p.answer()
	}
	if err := p.open(); err != nil {
		return p.failed(now, NoPin, err)
	}
	var closed []int
	var errs []error
	for i, s := range p.at {
		on, err := s.Read(now)
		errs = append(errs, err)
		if on {
			closed = append(closed, i)
		}
	}
	if err := errors.Join(errs...); err != nil {
		return p.failed(now, Chattering, err)
	}
	if len(closed) > 1 {
		return p.failed(now, p.places.both, p.places.errBoth(closed[0], closed[1]))
	}
	return p.position(now, closed)
}

// position judges what the contacts say, of which one is closed at most.
func (p *contacts) position(now time.Duration, closed []int) (float64, reading.Quality, error) {
	at := p.places.nowhere
	if len(closed) > 0 {
		at = p.places.at[closed[0]]
	}
	if math.IsNaN(at) {
		if !p.apart {
			p.apart, p.left = true, now
		}
		if now-p.left >= moving {
			return p.failed(now, p.places.none, p.places.errNone)
		}
		return at, reading.Good, nil
	}
	p.apart = false
	if p.failures > 0 {
		p.well(now)
	}
	return at, reading.Good, nil
}

// open makes inputs of the pins that are not open yet.
func (p *contacts) open() error {
	for i, name := range p.pinNames {
		if p.at[i] != nil {
			continue
		}
		pin, err := p.buses.Pin(name)
		if err != nil {
			return err
		}
		if p.at[i], err = switchpin.Open(pin, p.activeLow, p.debounce); err != nil {
			return err
		}
	}
	return nil
}

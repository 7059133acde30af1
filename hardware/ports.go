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

var errNoPort = errors.New("the switch of none of its ports is closed")

// portSwitches polls a selector with a switch at each of its ports. A hose on no machine joins no port, which is 0. A
// switch-over piece always joins one, so that none of them is no position, and told as that.
type portSwitches struct {
	health
	pinNames  []string // in the order of the ports
	activeLow bool
	debounce  time.Duration
	hose      bool
	buses     Buses
	clock     clock.Clock

	at    []*switchpin.Switch // nil until the pins were found
	left  time.Duration       // monotonic, when it was first seen at none
	apart bool                // it is at none
}

func (p *portSwitches) Channel() string         { return p.channel }
func (p *portSwitches) Interval() time.Duration { return switchInterval }

// Raw is the level of all pins.
func (p *portSwitches) Raw() string {
	levels := make([]string, len(p.at))
	for i, s := range p.at {
		if s == nil {
			return ""
		}
		levels[i] = strings.ToLower(s.Level().String())
	}
	return strings.Join(levels, "/")
}

// Read samples all switches; see Poller. Between two ports it returns NaN, and after a while a fault.
func (p *portSwitches) Read() (float64, reading.Quality, error) {
	now := p.clock.Mono()
	if p.resting(now) {
		return p.answer()
	}
	if err := openPins(p.buses, p.pinNames, p.at, p.activeLow, p.debounce); err != nil {
		return p.failed(now, NoPin, err)
	}
	var closed []int
	var errs []error
	for i, s := range p.at {
		on, err := s.Read(now)
		errs = append(errs, err)
		if on {
			closed = append(closed, i+1)
		}
	}
	if err := errors.Join(errs...); err != nil {
		return p.failed(now, Chattering, err)
	}
	if len(closed) > 1 {
		return p.failed(now, TwoPorts, fmt.Errorf("the switches of ports %d and %d are closed at once", closed[0], closed[1]))
	}
	return p.position(now, closed)
}

// position judges what the switches say, of which one is closed at most.
func (p *portSwitches) position(now time.Duration, closed []int) (float64, reading.Quality, error) {
	if len(closed) == 0 && !p.hose {
		if !p.apart {
			p.apart, p.left = true, now
		}
		if now-p.left >= moving {
			return p.failed(now, NoPort, errNoPort)
		}
		return math.NaN(), reading.Good, nil
	}
	p.apart = false
	if p.failures > 0 {
		p.well(now)
	}
	if len(closed) == 0 {
		return 0, reading.Good, nil
	}
	return float64(closed[0]), reading.Good, nil
}

// openPins makes inputs of the pins that are not open yet.
func openPins(buses Buses, names []string, into []*switchpin.Switch, activeLow bool, debounce time.Duration) error {
	for i, name := range names {
		if into[i] != nil {
			continue
		}
		pin, err := buses.Pin(name)
		if err != nil {
			return err
		}
		s, err := switchpin.Open(pin, activeLow, debounce)
		if err != nil {
			return err
		}
		into[i] = s
	}
	return nil
}

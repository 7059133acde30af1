package hardware

import (
	"errors"
	"math"
	"strings"
	"time"

	"ductward/hardware/switchpin"
	"ductward/internal/clock"
	"ductward/internal/reading"
)

// moving is how long a gate may be between its two contacts before it is a fault: a hand moves it in a second or two,
// and one that is left half open should be told. Common practice, no source.
const moving = 30 * time.Second

var (
	errBetween = errors.New("neither the contact at its open end nor the one at its shut end is closed")
	errBoth    = errors.New("the contacts at both ends are closed at once")
)

// pairSwitch polls a gate with a contact at each end. It is open, shut, or neither; neither is no position, and is told
// as that.
type pairSwitch struct {
	health
	pinNames  [2]string // at the open and at the shut end
	activeLow bool
	debounce  time.Duration
	buses     Buses
	clock     clock.Clock

	ends  [2]*switchpin.Switch // nil until the pins were found
	left  time.Duration        // monotonic, when it was first seen between
	apart bool                 // it is between
}

func (p *pairSwitch) Channel() string         { return p.channel }
func (p *pairSwitch) Interval() time.Duration { return switchInterval }

// Raw is the level of both pins.
func (p *pairSwitch) Raw() string {
	if p.ends[1] == nil {
		return ""
	}
	return strings.ToLower(p.ends[0].Level().String() + "/" + p.ends[1].Level().String())
}

// Read samples both contacts; see Poller. Between them it returns NaN, and after a while a fault.
func (p *pairSwitch) Read() (float64, reading.Quality, error) {
	now := p.clock.Mono()
	if p.resting(now) {
		return p.answer()
	}
	if err := openPins(p.buses, p.pinNames[:], p.ends[:], p.activeLow, p.debounce); err != nil {
		return p.failed(now, NoPin, err)
	}
	open, errOpen := p.ends[0].Read(now)
	shut, errShut := p.ends[1].Read(now)
	if err := errors.Join(errOpen, errShut); err != nil {
		return p.failed(now, Chattering, err)
	}
	if open && shut {
		return p.failed(now, BothEnds, errBoth)
	}
	return p.position(now, open, shut)
}

// position judges what the contacts say. Both are not closed.
func (p *pairSwitch) position(now time.Duration, open, shut bool) (float64, reading.Quality, error) {
	if !open && !shut {
		if !p.apart {
			p.apart, p.left = true, now
		}
		if now-p.left >= moving {
			return p.failed(now, Between, errBetween)
		}
		return math.NaN(), reading.Good, nil
	}
	p.apart = false
	if p.failures > 0 {
		p.well(now)
	}
	return numeral(open), reading.Good, nil
}

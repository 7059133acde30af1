package hardware

import (
	"strings"
	"time"

	"ductward/hardware/switchpin"
	"ductward/internal/clock"
	"ductward/internal/reading"
)

// defaultDebounce holds where the shop file gives none.
const defaultDebounce = 50 * time.Millisecond

// pinSwitch polls one switch on a pin.
type pinSwitch struct {
	health
	pinName   string
	activeLow bool
	debounce  time.Duration
	buses     Buses
	clock     clock.Clock
	sw        *switchpin.Switch // nil until the pin was found
}

func (p *pinSwitch) Channel() string         { return p.channel }
func (p *pinSwitch) Interval() time.Duration { return switchInterval }

// Raw is the level of the pin.
func (p *pinSwitch) Raw() string {
	if p.sw == nil {
		return ""
	}
	return strings.ToLower(p.sw.Level().String())
}

// Read samples the switch; see Poller.
func (p *pinSwitch) Read() (float64, reading.Quality, error) {
	now := p.clock.Mono()
	if p.resting(now) {
		return p.answer()
	}
	if p.sw == nil {
		if err := p.open(); err != nil {
			return p.failed(now, NoPin, err)
		}
	}
	active, err := p.sw.Read(now)
	if err != nil {
		return p.failed(now, Chattering, err)
	}
	if p.failures > 0 {
		p.well(now)
	}
	return numeral(active), reading.Good, nil
}

// numeral is a position as readings hold it.
func numeral(active bool) float64 {
	if active {
		return 1
	}
	return 0
}

func (p *pinSwitch) open() error {
	pin, err := p.buses.Pin(p.pinName)
	if err != nil {
		return err
	}
	p.sw, err = switchpin.Open(pin, p.activeLow, p.debounce)
	return err
}

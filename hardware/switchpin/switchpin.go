// Package switchpin reads a switch on a GPIO pin: a reed or limit switch on a gate, a current switch on a fan.
//
// It is sampled, not interrupted: a gate moves a few times an hour, and a mechanical contact bounces for some
// milliseconds after each move (common practice, no source: 50 ms covers it). A level counts once it has been the same
// over the debounce time. A contact that never comes to rest is a loose wire, and has no position.
//
// Wire it so that the pin is driven through the whole loop in one position; the internal pull holds it in the other. A
// cut wire then looks like that other position, which one pin alone cannot tell.
package switchpin

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// A contact that changes chatterFlips times within chatterTime is not a gate being moved by a hand.
const (
	chatterFlips = 6
	chatterTime  = 10 * time.Second
)

// ErrChatter tells of a contact that does not come to rest.
const ErrChatter Error = "the contact changes again and again, as a loose wire or a vibrating switch does"

// Error is a reason why there is no position.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// Switch is one switch. It is for one goroutine.
type Switch struct {
	pin      gpio.PinIn
	active   gpio.Level
	debounce time.Duration

	begun   bool
	settled bool       // the position that counts: true is active
	level   gpio.Level // as read last
	since   time.Duration
	flips   [chatterFlips]time.Duration // when the level changed; a ring
	next    int
	count   int // changes ever, up to len(flips)
}

// Open makes the pin an input, with the pull that holds it at rest: up for a switch that pulls it low when it is
// active, else down.
func Open(pin gpio.PinIn, activeLow bool, debounce time.Duration) (*Switch, error) {
	s := &Switch{pin: pin, active: gpio.High, debounce: debounce}
	pull := gpio.PullDown
	if activeLow {
		s.active, pull = gpio.Low, gpio.PullUp
	}
	if err := pin.In(pull, gpio.NoEdge); err != nil {
		return nil, fmt.Errorf("make pin %s an input: %w", pin, err)
	}
	return s, nil
}

// Level is the level as it was read last, before debouncing.
func (s *Switch) Level() gpio.Level { return s.level }

// Read samples the pin at a monotonic time that never falls, and tells whether the switch is active. The first level is
// taken as it is; a change counts from the first sample that comes at least the debounce time after the change was
// seen, with no other level seen between.
func (s *Switch) Read(now time.Duration) (bool, error) {
	level := s.pin.Read()
	switch {
	case !s.begun:
		s.begun, s.level, s.since = true, level, now
		s.settled = level == s.active
	case level != s.level:
		s.level, s.since = level, now
		s.flips[s.next] = now
		s.next = (s.next + 1) % chatterFlips
		s.count = min(s.count+1, chatterFlips)
	}
	if s.count == chatterFlips && now-s.flips[s.next] < chatterTime {
		return false, ErrChatter
	}
	if now-s.since >= s.debounce {
		s.settled = s.level == s.active
	}
	return s.settled, nil
}

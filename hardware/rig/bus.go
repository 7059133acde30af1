package rig

import (
	"errors"
	"time"

	"periph.io/x/conn/v3/physic"
)

// errNACK is what a bus says when nobody acknowledges.
var errNACK = errors.New("rig: i2c: no acknowledge")

// device is a part on a bus.
type device interface {
	breakable
	address() uint16
	// write takes the bytes of a write transfer, and read fills the bytes of a read transfer; now is monotonic time.
	write(now time.Duration, instant bool, w []byte) error
	read(now time.Duration, instant bool, r []byte) error
	// restart tells that time goes on from now on another clock.
	restart(now time.Duration)
}

// bus is one I²C bus of the rig.
type bus struct {
	rig     *Rig
	name    string
	devices []*place
	muxes   []*mux
	dark    bool // its parts have no supply
}

// String returns the bus's name.
func (b *bus) String() string { return "rig-i2c-" + b.name }

// SetSpeed does nothing: transfers take no time.
func (b *bus) SetSpeed(physic.Frequency) error { return nil }

// Tx makes one transfer: a write, a read, or a write with a read after a repeated start.
func (b *bus) Tx(addr uint16, w, r []byte) error {
	b.rig.mu.Lock()
	defer b.rig.mu.Unlock()
	if b.dark {
		return errNACK
	}
	for _, m := range b.muxes {
		if m.addr == addr {
			return m.transfer(w, r)
		}
	}
	var at device
	for _, p := range b.devices {
		switch {
		case p.address() != addr || !p.heard():
		case at != nil:
			return errCollision
		default:
			at = p.device
		}
	}
	if at == nil {
		return errNACK
	}
	return b.transfer(at, w, r)
}

func (b *bus) transfer(d device, w, r []byte) error {
	now := b.rig.moment()
	if len(w) > 0 {
		if err := d.write(now, b.rig.instant, w); err != nil {
			return err
		}
	}
	if len(r) > 0 {
		return d.read(now, b.rig.instant, r)
	}
	return nil
}

package rig

import (
	"time"

	"ductward/internal/shop"
)

// adp810 is a simulated Aosong ADP810, by the Linux driver drivers/iio/pressure/adp810.c, which cites its datasheet: 37 2D
// starts a measurement of 10 ms; the answer is an SDP8xx's frame. It is taken to be calibrated where it stands.
type adp810 struct {
	sdp8xx
	started bool
}

const (
	adpMeasure    = 0x372D
	adpConversion = 10 * time.Millisecond
)

func newADP810(f shop.Source, p probe) *adp810 {
	return &adp810{sdp8xx: sdp8xx{addr: f.Address, scale: 60, probe: p, unaware: true}}
}

func (d *adp810) write(now time.Duration, _ bool, w []byte) error {
	if d.faults.unplugged || len(w) != 2 || uint16(w[0])<<8|uint16(w[1]) != adpMeasure {
		return errNACK
	}
	d.started, d.ready = true, now+adpConversion
	return nil
}

// read answers the measurement once.
func (d *adp810) read(now time.Duration, instant bool, r []byte) error {
	if !d.started {
		return errNACK
	}
	d.measuring = true
	err := d.sdp8xx.read(now, instant, r)
	d.measuring = false
	if err == nil {
		d.started = false
	}
	return err
}

func (d *adp810) mend() {
	d.started = d.started && !d.faults.unplugged
	d.sdp8xx.mend()
}

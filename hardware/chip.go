package hardware

import (
	"time"

	"ductward/hardware/abp2"
	"ductward/hardware/sdp8xx"

	"periph.io/x/conn/v3/i2c"
)

// chip is what the sensors on I²C have in common.
type chip interface {
	// setUp makes the part ready, after it was plugged in, lost its supply, or was left running by another program.
	setUp(bus i2c.Bus) error

	// read measures once. Its counts are there for the stuck watch.
	read() (counts int32, pa float64, nearEnd bool, err error)

	// code tells which fault an error of the part is; anything else is the bus's.
	code(err error) (Code, bool)

	// halt leaves the part idle.
	halt()
}

// starter is a chip that measures when it is told to and is waited for, so that several on one bus can measure at the same
// time.
type starter interface {
	start() error
	takes() time.Duration // from start until fetch
	fetch() (counts int32, pa float64, nearEnd bool, err error)
}

// abp2Chip is an ABP2: it needs no setting up.
type abp2Chip struct{ dev abp2.Dev }

func (c *abp2Chip) setUp(bus i2c.Bus) error { c.dev.Bus = bus; return nil }

func (c *abp2Chip) read() (int32, float64, bool, error)  { return c.say(c.dev.Read()) }
func (c *abp2Chip) start() error                         { return c.dev.Start() }
func (c *abp2Chip) takes() time.Duration                 { return abp2.Conversion }
func (c *abp2Chip) fetch() (int32, float64, bool, error) { return c.say(c.dev.Fetch()) }

func (c *abp2Chip) say(s abp2.Sample, err error) (int32, float64, bool, error) {
	return int32(s.Counts), s.Pressure, s.NearEnd, err
}

func (c *abp2Chip) halt() {}

func (c *abp2Chip) code(err error) (Code, bool) {
	e, ok := err.(abp2.Error)
	if !ok {
		return "", false
	}
	switch e {
	case abp2.ErrBusy:
		return Busy, true
	case abp2.ErrLatched:
		return LatchedUp, true
	case abp2.ErrLow, abp2.ErrHigh, abp2.ErrMath:
		return Saturated, true
	}
	return ChipError, true
}

// sdpChip is an SDP8xx.
type sdpChip struct {
	dev     sdp8xx.Dev
	ambient *ambient
}

func (c *sdpChip) setUp(bus i2c.Bus) error {
	c.dev.Bus = bus
	return c.dev.Start()
}

func (c *sdpChip) read() (int32, float64, bool, error) {
	s, err := c.dev.Read()
	return int32(s.Counts), s.Pressure * sdp8xx.Correction(c.ambient.get()), s.NearEnd, err
}

func (c *sdpChip) halt() {
	if c.dev.Bus != nil {
		c.dev.Stop()
	}
}

func (c *sdpChip) code(err error) (Code, bool) { return thermalCode(err) }

// thermalCode tells which fault an error of a thermal part is.
func thermalCode(err error) (Code, bool) {
	e, ok := err.(sdp8xx.Error)
	if !ok {
		return "", false
	}
	switch e {
	case sdp8xx.ErrCRC:
		return BadCRC, true
	case sdp8xx.ErrLow, sdp8xx.ErrHigh:
		return Saturated, true
	case sdp8xx.ErrProduct, sdp8xx.ErrRange:
		return WrongChip, true
	}
	return ChipError, true
}

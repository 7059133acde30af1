package hardware

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/abp2"
	"ductward/hardware/adp810"
	"ductward/hardware/dlh"
	"ductward/hardware/hsc"
	"ductward/hardware/sdp8xx"
	"ductward/internal/shop"
)

// stillThermal and stillMembrane are the pressures, in Pa and as a share of the span, below which a part may sit still;
// see stuckWatch. A thermal part's zero and noise are far below, and any flow is far above; a membrane's zero may be off
// by 1.5 % of the span or so, and "still at zero" needs somewhat more than that.
const (
	stillThermal  = 2.0
	stillMembrane = 0.025
)

// newChip returns the chip and the pressure below which it may sit still.
func (b *builder) newChip(f *shop.Source, q shop.Quantity) (chip, float64, error) {
	if f.Address > 0x7F {
		return nil, 0, fmt.Errorf("address 0x%X is no 7-bit address", f.Address)
	}
	sleep := b.clock.Sleep
	switch f.Chip {
	case "sdp8xx":
		return &sdpChip{dev: sdp8xx.Dev{Addr: f.Address, Span: f.Span, Sleep: sleep}, ambient: b.ambient}, stillThermal, nil
	case "sdp3x":
		return &sdpChip{dev: sdp8xx.Dev{Addr: f.Address, Kind: sdp8xx.SDP3x, Span: f.Span, Sleep: sleep}, ambient: b.ambient}, stillThermal, nil
	case "bme280":
		return &roomChip{part: b.roomPart(f), quantity: q}, math.Inf(1), nil // its resolution is coarse against the weather's moves
	case "ads1115":
		return b.transmitter(f), math.Inf(1), nil // many transmitters damp what they send
	case "adp810":
		return &adpChip{dev: adp810.Dev{Addr: f.Address, Sleep: sleep}}, stillThermal, nil
	}
	if c := b.membrane(f); c != nil {
		if !(f.Span > 0) {
			return nil, 0, fmt.Errorf(`%s needs span:, the full scale in its order code, as in "2.5 kPa"`, f.Chip)
		}
		return c, stillMembrane * f.Span, nil
	}
	var names []string
	for _, c := range shop.Chips {
		names = append(names, fmt.Sprintf("%q", c.Name))
	}
	return nil, 0, fmt.Errorf("chip %q is not known; write one of %s", f.Chip, strings.Join(names, ", "))
}

// membrane returns a chip whose range is in its order code alone, nil if it is none.
func (b *builder) membrane(f *shop.Source) chip {
	sleep := b.clock.Sleep
	switch f.Chip {
	case "abp2":
		return &abp2Chip{dev: abp2.Dev{Addr: f.Address, Range: abp2.Range{Span: f.Span, OneSided: f.OneSided}, Sleep: sleep}}
	case "hsc":
		return &hscChip{dev: hsc.Dev{Addr: f.Address, Range: hsc.Range{Span: f.Span, OneSided: f.OneSided}, Sleep: sleep}}
	case "dlh":
		return &dlhChip{dev: dlh.Dev{Addr: f.Address, Range: dlh.Range{Span: f.Span, OneSided: f.OneSided}, Sleep: sleep}}
	}
	return nil
}

// adpChip is an ADP810: it needs no setting up.
type adpChip struct{ dev adp810.Dev }

func (c *adpChip) setUp(bus i2c.Bus) error { c.dev.Bus = bus; return nil }

func (c *adpChip) read() (int32, float64, bool, error)  { return c.say(c.dev.Read()) }
func (c *adpChip) start() error                         { return c.dev.Start() }
func (c *adpChip) takes() time.Duration                 { return adp810.Conversion }
func (c *adpChip) fetch() (int32, float64, bool, error) { return c.say(c.dev.Fetch()) }

func (c *adpChip) say(s sdp8xx.Sample, err error) (int32, float64, bool, error) {
	return int32(s.Counts), s.Pressure, s.NearEnd, err
}

func (c *adpChip) halt()                       {}
func (c *adpChip) code(err error) (Code, bool) { return thermalCode(err) }

// hscChip is an HSC or SSC: it needs no setting up. Its counts are the sum over what it means.
type hscChip struct{ dev hsc.Dev }

func (c *hscChip) setUp(bus i2c.Bus) error { c.dev.Bus = bus; return nil }

func (c *hscChip) read() (int32, float64, bool, error) {
	m, err := c.dev.Read()
	return m.Sum, m.Pressure, m.NearEnd, err
}

func (c *hscChip) halt() {}

func (c *hscChip) code(err error) (Code, bool) {
	var e hsc.Error
	if !errors.As(err, &e) {
		return "", false
	}
	switch e {
	case hsc.ErrLow, hsc.ErrHigh:
		return Saturated, true
	case hsc.ErrStale:
		return Busy, true
	}
	return ChipError, true
}

// dlhChip is a DLH or DLHR: it needs no setting up.
type dlhChip struct{ dev dlh.Dev }

func (c *dlhChip) setUp(bus i2c.Bus) error { c.dev.Bus = bus; return nil }

func (c *dlhChip) read() (int32, float64, bool, error)  { return c.say(c.dev.Read()) }
func (c *dlhChip) start() error                         { return c.dev.Start() }
func (c *dlhChip) takes() time.Duration                 { return dlh.Conversion }
func (c *dlhChip) fetch() (int32, float64, bool, error) { return c.say(c.dev.Fetch()) }

func (c *dlhChip) say(s dlh.Sample, err error) (int32, float64, bool, error) {
	return int32(s.Counts), s.Pressure, s.NearEnd, err
}

func (c *dlhChip) halt() {}

func (c *dlhChip) code(err error) (Code, bool) {
	var e dlh.Error
	if !errors.As(err, &e) {
		return "", false
	}
	switch e {
	case dlh.ErrLow, dlh.ErrHigh, dlh.ErrALU:
		return Saturated, true
	case dlh.ErrBusy:
		return Busy, true
	case dlh.ErrStatus:
		return WrongChip, true
	}
	return ChipError, true
}

package hardware

import (
	"bytes"
	"errors"
	"log/slog"
	"math"
	"testing"
	"time"

	"ductward/internal/clock"
	"ductward/internal/reading"
	"ductward/internal/shop"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"
)

// seaLevel is the SDP8xx's factor in the standard atmosphere at sea level: 966 mbar over 1013.25 mbar.
const seaLevel = 966 / 1013.25

// bench is a shop of one collector with its wires.
type bench struct {
	t     *testing.T
	shop  *shop.Shop
	wires *wires
	clock *clock.Virtual
	log   bytes.Buffer
	set   *Set
}

func newBench(t *testing.T) *bench {
	b := &bench{t: t, wires: newWires(), clock: clock.NewVirtual(time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC))}
	b.shop = &shop.Shop{Name: "stairs", Collectors: []*shop.Collector{{
		Name: "main",
		Sensors: []*shop.Sensor{
			{Name: "filter drop", Measures: shop.FilterDrop, From: shop.Source{Kind: shop.SourceI2C, Chip: "abp2", Bus: "1", Address: 0x28, Span: 2500}},
			{Name: "trunk", Measures: shop.StaticPressure, From: shop.Source{Kind: shop.SourceI2C, Chip: "abp2", Bus: "2", Address: 0x28, Span: 2500, Swapped: true}},
			{Name: "velocity", Measures: shop.VelocityPressure, Interval: 2 * time.Second, From: shop.Source{Kind: shop.SourceI2C, Chip: "sdp8xx", Bus: "1", Address: 0x25, Span: 500}},
		},
		FanSwitch: &shop.Source{Kind: shop.SourceGPIO, Pin: "GPIO17", ActiveLow: true},
		Gates: []*shop.Gate{
			{Name: "saw", Position: &shop.Source{Kind: shop.SourceGPIO, Pin: "GPIO22"}},
			{Name: "floor", Position: &shop.Source{Kind: shop.SourceFixed, Fixed: true}},
			{Name: "spare", Position: &shop.Source{Kind: shop.SourceByHand}},
			{Name: "blank"},
		},
		Selectors: []*shop.Selector{{Name: "hose", Ports: []string{"router", "sander"}, Position: &shop.Source{Kind: shop.SourceByHand}}},
	}}}
	return b
}

func (b *bench) logger() *slog.Logger { return slog.New(slog.NewTextHandler(&b.log, nil)) }

func (b *bench) open() *bench {
	set, err := Open(b.shop, b.wires, b.clock, b.logger())
	require.NoError(b.t, err)
	b.set = set
	b.t.Cleanup(func() { assert.NoError(b.t, set.Close()) })
	return b
}

func (b *bench) poller(channel string) Poller {
	for _, p := range b.set.Pollers() {
		if p.Channel() == channel {
			return p
		}
	}
	require.Fail(b.t, "no poller", channel)
	return nil
}

// wantFault reads, and wants no number and that fault.
func (b *bench) wantFault(channel string, code Code) *Fault {
	b.t.Helper()
	v, _, err := b.poller(channel).Read()
	assert.True(b.t, math.IsNaN(v), "a faulty sensor yields no number, not %g", v)
	var f *Fault
	require.True(b.t, errors.As(err, &f), "%v is no fault", err)
	assert.Equal(b.t, code, f.Code)
	assert.Equal(b.t, channel, f.Channel)
	assert.NotEmpty(b.t, f.Remedy)
	assert.Contains(b.t, b.set.Faults(), f)
	return f
}

func (b *bench) wantValue(channel string, want float64) {
	b.t.Helper()
	v, q, err := b.poller(channel).Read()
	require.NoError(b.t, err)
	assert.InDelta(b.t, want, v, 0.001, "%s", channel)
	assert.Equal(b.t, reading.Good, q)
}

func TestPollersAndGroups(t *testing.T) {
	b := newBench(t).open()
	var got []string
	for _, p := range b.set.Pollers() {
		got = append(got, p.Channel())
	}
	assert.Equal(t, []string{"main/filter drop", "main/trunk", "main/velocity", "main/fan", "gate/saw", "gate/floor"}, got)
	var groups []string
	for _, g := range b.set.Groups() {
		s := g.Bus + ":"
		for _, p := range g.Pollers {
			s += " " + p.Channel()
		}
		groups = append(groups, s)
	}
	assert.Equal(t, []string{"i2c 1: main/filter drop main/velocity", "i2c 2: main/trunk", "gpio: main/fan gate/saw", "fixed: gate/floor"}, groups)
	assert.Equal(t, time.Second, b.poller("main/trunk").Interval())
	assert.Equal(t, 2*time.Second, b.poller("main/velocity").Interval())
}

func TestReadings(t *testing.T) {
	b := newBench(t).open()
	one, two := b.wires.plugBus("1"), b.wires.plugBus("2")
	one.plug(0x28, &membrane{status: 0x40, counts: 0xB33332})
	two.plug(0x28, &membrane{status: 0x40, counts: 0xB33332})
	one.plug(0x25, &thermal{product: 0x03020A01, counts: 6000, scale: 60})
	b.wires.pins["GPIO17"] = &gpiotest.Pin{N: "GPIO17"}
	b.wires.pins["GPIO22"] = &gpiotest.Pin{N: "GPIO22"}

	b.wantValue("main/filter drop", 1250)
	b.wantValue("main/trunk", -1250) // swapped
	b.wantValue("main/velocity", 100*seaLevel)
	b.set.SetAmbient(96600)
	b.wantValue("main/velocity", 100)
	b.wantValue("gate/floor", 1)
	b.wantValue("main/fan", 0)
	b.wantValue("gate/saw", 0)
	require.NoError(t, b.wires.pins["GPIO17"].Out(gpio.Low))
	require.NoError(t, b.wires.pins["GPIO22"].Out(gpio.High))
	for _, p := range b.set.Pollers() {
		_, _, err := p.Read() // sees the change
		require.NoError(t, err)
	}
	b.clock.Advance(50 * time.Millisecond)
	b.wantValue("main/fan", 1)
	b.wantValue("gate/saw", 1)
	assert.Empty(t, b.set.Faults())
}

// TestNothingThere: a shop whose parts are all missing opens, and each part is a fault that says where it was sought.
func TestNothingThere(t *testing.T) {
	b := newBench(t).open()
	assert.Contains(t, b.wantFault("main/filter drop", NoBus).Error(), `i2c bus "1" address 0x28`)
	b.wantFault("main/fan", NoPin)
	b.wires.plugBus("1")
	b.clock.Advance(time.Minute)
	f := b.wantFault("main/filter drop", NotAnswering)
	assert.ErrorIs(t, f, errNACK)
	assert.Zero(t, f.Since, "it never had a value")
	b.wires.pins["GPIO17"] = &gpiotest.Pin{N: "GPIO17"}
	b.wantValue("main/fan", 0)
}

// TestOpenReportsEveryMistake: what cannot be is named, all at once.
func TestOpenReportsEveryMistake(t *testing.T) {
	b := newBench(t)
	c := b.shop.Collectors[0]
	c.Sensors[0].From.Chip = "abp3"
	c.Sensors[1].From.Span = 0
	c.Sensors[2].Measures = shop.AirTemperature
	c.FanSwitch = &shop.Source{Kind: shop.SourceI2C, Chip: "abp2"}
	c.Gates[0].Position = &shop.Source{Kind: shop.SourceMQTT, Topic: "gates/#"}
	c.Selectors[0].Position = &shop.Source{Kind: shop.SourceGPIO, Pin: "GPIO23"}
	c.Sensors = append(c.Sensors,
		&shop.Sensor{Name: "odd", Measures: shop.FilterDrop, From: shop.Source{Kind: shop.SourceI2C, Chip: "abp2", Span: 1, Address: 0x100}},
		&shop.Sensor{Name: "pin", Measures: shop.FilterDrop, From: shop.Source{Kind: shop.SourceGPIO}},
		&shop.Sensor{Name: "hand", Measures: shop.FilterDrop, From: shop.Source{Kind: shop.SourceByHand}})
	_, err := Open(b.shop, b.wires, b.clock, slog.New(slog.DiscardHandler))
	require.Error(t, err)
	for _, want := range []string{
		`chip "abp3" is not known; write one of "sdp8xx", "sdp3x", "adp810", "abp2", "hsc", "dlh"`,
		`"main/trunk": abp2 needs span:`,
		`"main/velocity": chip "sdp8xx" measures a difference of pressure`,
		`main/fan: a chip tells no position`,
		`topic "gates/#"`,
		`selector/hose: its position must come from a pin a port, from a topic`,
		`address 0x100 is no 7-bit address`,
		`sensor "main/pin": its source has no number to read`,
	} {
		assert.ErrorContains(t, err, want)
	}
	assert.NotContains(t, err.Error(), "main/hand")
}

// TestWithoutBuses: a shop whose sources are all published needs no board, and another says what is missing.
func TestWithoutBuses(t *testing.T) {
	b := newBench(t)
	set, err := Open(b.shop, nil, b.clock, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	for _, p := range set.Pollers() {
		if p.Channel() != "gate/floor" {
			_, _, err := p.Read()
			assert.ErrorContains(t, err, "without access to the board's")
		}
	}
	require.NoError(t, set.Close())
}

// TestCloseLeavesTheChipIdle: a thermal part is stopped.
func TestCloseLeavesTheChipIdle(t *testing.T) {
	b := newBench(t).open()
	chip := &thermal{product: 0x03020A01, counts: 6000, scale: 60}
	b.wires.plugBus("1").plug(0x25, chip)
	b.wantValue("main/velocity", 100*seaLevel)
	require.True(t, chip.started)
	require.NoError(t, b.set.Close())
	assert.False(t, chip.started)
}

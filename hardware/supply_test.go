package hardware

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"

	"ductward/internal/shop"
)

// powerPin switches a supply, and tells somebody when it goes off.
type powerPin struct {
	gpiotest.Pin
	levels []gpio.Level
	off    func()
	fails  error
}

func (p *powerPin) Out(l gpio.Level) error {
	p.levels = append(p.levels, l)
	if !l && p.off != nil {
		p.off()
	}
	return p.fails
}

// powered is a bench whose first bus has a supply behind a pin.
func powered(t *testing.T) (*bench, *powerPin) {
	b := newBench(t)
	b.shop.Buses = []*shop.Bus{{Bus: "/dev/i2c-1", Power: "GPIO26", OffFor: 2 * time.Second, AtMostEvery: time.Hour}}
	pin := &powerPin{}
	b.wires.outs["GPIO26"] = pin
	return b.open(), pin
}

// TestALatchedPartComesBackByItsSupply: it is switched off once, after the fault has stood for a while.
func TestALatchedPartComesBackByItsSupply(t *testing.T) {
	b, pin := powered(t)
	bus := b.wires.plugBus("1")
	latched := &membrane{status: 0x40, stuck: true}
	bus.plug(0x28, latched)
	bus.plug(0x25, &thermal{product: 0x03020A01, counts: 6000, scale: 60})
	pin.off = func() { bus.plug(0x28, &membrane{status: 0x40, counts: 0xB33332}) }
	b.wantFault("main/filter drop", LatchedUp)
	assert.Equal(t, []gpio.Level{gpio.High}, pin.levels, "it is on before anything is asked")
	b.wantValue("main/velocity", 100*seaLevel)
	for range 19 {
		b.clock.Advance(time.Second)
		b.wantFault("main/filter drop", LatchedUp)
	}
	b.clock.Advance(time.Second)
	f := b.wantFault("main/filter drop", LatchedUp)
	assert.Equal(t, []gpio.Level{gpio.High, gpio.Low, gpio.High}, pin.levels)
	assert.Contains(t, f.Error(), "the supply of its bus was switched off and on once")
	b.wantValue("main/filter drop", 1250)
	b.wantValue("main/velocity", 100*seaLevel) // set up again
	assert.Equal(t, 1, strings.Count(b.log.String(), "the supply of a bus was switched off and on"))
}

// TestASupplyIsSwitchedSeldom: where it does not help it is tried once an hour, and told with the count.
func TestASupplyIsSwitchedSeldom(t *testing.T) {
	b, pin := powered(t)
	b.wires.plugBus("1")
	for range 4 * 360 {
		b.wantFault("main/filter drop", NotAnswering)
		b.wantFault("main/velocity", NotAnswering)
		b.clock.Advance(10 * time.Second)
	}
	assert.Len(t, pin.levels, 1+2*4, "four hours")
	assert.Contains(t, b.wantFault("main/velocity", NotAnswering).Error(), "switched off and on 4 times; check the plug")
}

// TestOneSilentPartIsNoReason: the others on the bus would pay for it.
func TestOneSilentPartIsNoReason(t *testing.T) {
	b, pin := powered(t)
	b.wires.plugBus("1").plug(0x28, &membrane{status: 0x40, counts: 0xB33332})
	for range 100 {
		b.wantFault("main/velocity", NotAnswering)
		b.wantValue("main/filter drop", 1250)
		b.clock.Advance(time.Second)
	}
	assert.Len(t, pin.levels, 1)
}

// TestASupplyThatCannotBeSwitched: without its pin nothing on the bus can be trusted to have a supply, and with it all is
// well again.
func TestASupplyThatCannotBeSwitched(t *testing.T) {
	b, pin := powered(t)
	b.wires.plugBus("1").plug(0x28, &membrane{status: 0x40, counts: 0xB33332})
	delete(b.wires.outs, "GPIO26")
	assert.ErrorContains(t, b.wantFault("main/filter drop", NoPin), "GPIO26")
	pin.fails = errors.New("in use")
	b.wires.outs["GPIO26"] = pin
	b.clock.Advance(lastWait)
	assert.ErrorContains(t, b.wantFault("main/filter drop", NoPin), "GPIO26")
	pin.fails = nil
	b.clock.Advance(lastWait)
	b.wantValue("main/filter drop", 1250)
	assert.Empty(t, b.set.Faults())
}

// TestSwitchOn: a supply that cannot be switched is named, and keeps no other one off.
func TestSwitchOn(t *testing.T) {
	b, pin := powered(t)
	b.shop.Buses = append([]*shop.Bus{{Bus: "7", Power: "GPIO5"}}, b.shop.Buses...)
	err := SwitchOn(b.shop, b.wires, b.clock)
	require.ErrorContains(t, err, `supply of i2c bus 7: pin "GPIO5"`)
	assert.Len(t, pin.levels, 1)
	require.ErrorContains(t, SwitchOn(b.shop, noBuses{}, b.clock), "cannot be driven")
}

// TestALockedBusIsFreedByItsSupply: a part that holds the lines lets every transfer hang.
func TestALockedBusIsFreedByItsSupply(t *testing.T) {
	b, pin := powered(t)
	bus := b.wires.plugBus("1")
	locked := errors.Join(errLocked)
	bus.plug(0x28, partFunc(func(_, _ []byte) error { return locked }))
	pin.off = func() { bus.plug(0x28, &membrane{status: 0x40, counts: 0xB33332}) }
	for range int((deadFor + lastWait) / time.Second) {
		_, _, _ = b.poller("main/filter drop").Read()
		b.clock.Advance(time.Second)
	}
	b.wantValue("main/filter drop", 1250)
	assert.Len(t, pin.levels, 3)
}

type partFunc func(w, r []byte) error

func (f partFunc) tx(w, r []byte) error { return f(w, r) }

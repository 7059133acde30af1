package hardware

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"

	"ductward/internal/shop"
)

// withPorts has a selector with a switch at each of its three ports, wired active low.
func withPorts(t *testing.T, hose bool) (*bench, [3]*gpiotest.Pin) {
	b := newBench(t)
	b.shop.Collectors[0].Selectors[0] = &shop.Selector{Name: "hose", Hose: hose, Ports: []string{"router", "sander", "floor"},
		Position: &shop.Source{Kind: shop.SourceGPIO, Pins: []string{"GPIO5", "GPIO6", "GPIO7"}, ActiveLow: true, Debounce: 50 * time.Millisecond}}
	b.open()
	var pins [3]*gpiotest.Pin
	for i, name := range b.shop.Collectors[0].Selectors[0].Position.Pins {
		pins[i] = &gpiotest.Pin{N: name}
		b.wires.pins[name] = pins[i]
	}
	_, _, _ = b.poller("selector/hose").Read() // which sets the pulls, by which all pins are high
	return b, pins
}

// turn sets a switch and waits until it counts.
func (b *bench) turn(pin *gpiotest.Pin, l gpio.Level) {
	b.t.Helper()
	require.NoError(b.t, pin.Out(l))
	_, _, _ = b.poller("selector/hose").Read()
	b.clock.Advance(60 * time.Millisecond)
}

func TestAHoseWithASwitchAtEachMachine(t *testing.T) {
	b, pins := withPorts(t, true)
	b.wantValue("selector/hose", 0)
	b.turn(pins[1], gpio.Low)
	b.wantValue("selector/hose", 2)
	b.turn(pins[1], gpio.High)
	b.clock.Advance(moving)
	b.wantValue("selector/hose", 0) // it hangs on no machine, for as long as it likes
	b.turn(pins[2], gpio.Low)
	b.wantValue("selector/hose", 3)
	b.turn(pins[0], gpio.Low)
	f := b.wantFault("selector/hose", TwoPorts)
	assert.Contains(t, f.Error(), "pins GPIO5, GPIO6, GPIO7: the switches of ports 1 and 3 are closed at once")
	b.turn(pins[2], gpio.High)
	b.wantValue("selector/hose", 1)
	assert.Empty(t, b.set.Faults())
	d, ok := b.poller("selector/hose").(Detail)
	require.True(t, ok)
	assert.Equal(t, "low/high/high", d.Raw())
}

func TestASwitchOverPieceBetweenItsPorts(t *testing.T) {
	b, pins := withPorts(t, false)
	b.turn(pins[0], gpio.Low)
	b.wantValue("selector/hose", 1)
	b.turn(pins[0], gpio.High)
	v, _, err := b.poller("selector/hose").Read()
	require.NoError(t, err, "while it is being moved it is no fault")
	assert.True(t, math.IsNaN(v), "and at no port")
	b.clock.Advance(moving)
	b.wantFault("selector/hose", NoPort)
	b.turn(pins[2], gpio.Low)
	b.wantValue("selector/hose", 3)
	for range 8 {
		b.turn(pins[1], gpio.Low)
		b.turn(pins[1], gpio.High)
	}
	b.wantFault("selector/hose", Chattering)
	b.clock.Advance(time.Minute)
	b.wantValue("selector/hose", 3)
}

// TestContactsArePolledAsSwitches: one whose pin is missing at first.
func TestContactsArePolledAsSwitches(t *testing.T) {
	b := newBench(t)
	b.shop.Collectors[0].Contacts = []*shop.Contact{{Name: "bin level", From: &shop.Source{Kind: shop.SourceGPIO, Pin: "GPIO9", ActiveLow: true}}}
	b.open()
	b.wantFault("contact/bin level", NoPin)
	pin := &gpiotest.Pin{N: "GPIO9"}
	b.wires.pins["GPIO9"] = pin
	b.clock.Advance(time.Minute)
	b.wantValue("contact/bin level", 0)
	require.NoError(t, pin.Out(gpio.Low))
	_, _, _ = b.poller("contact/bin level").Read()
	b.clock.Advance(60 * time.Millisecond)
	b.wantValue("contact/bin level", 1)
	assert.Empty(t, b.set.Faults())
}

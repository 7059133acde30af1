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

// withPair has a gate with a contact at each end, wired active low.
func withPair(t *testing.T) (*bench, *gpiotest.Pin, *gpiotest.Pin) {
	b := newBench(t)
	b.shop.Collectors[0].Gates[0].Position = &shop.Source{Kind: shop.SourceGPIO, Pin: "GPIO22", ShutPin: "GPIO23", ActiveLow: true, Debounce: 50 * time.Millisecond}
	b.open()
	open, shut := &gpiotest.Pin{N: "GPIO22"}, &gpiotest.Pin{N: "GPIO23"}
	b.wires.pins["GPIO22"], b.wires.pins["GPIO23"] = open, shut
	_, _, _ = b.poller("gate/saw").Read() // which sets the pulls, by which both pins are high
	b.move(shut, gpio.Low)
	return b, open, shut
}

// move sets a contact and waits until it counts.
func (b *bench) move(pin *gpiotest.Pin, l gpio.Level) {
	b.t.Helper()
	require.NoError(b.t, pin.Out(l))
	_, _, _ = b.poller("gate/saw").Read()
	b.clock.Advance(60 * time.Millisecond)
}

func TestTwoContacts(t *testing.T) {
	b, open, shut := withPair(t)
	b.wantValue("gate/saw", 0)
	assert.Equal(t, gpio.PullUp, open.P)
	assert.Equal(t, gpio.PullUp, shut.P)

	b.move(shut, gpio.High)
	v, _, err := b.poller("gate/saw").Read()
	require.NoError(t, err, "a gate that is being moved is no fault")
	assert.True(t, math.IsNaN(v), "and neither open nor shut")
	b.move(open, gpio.Low)
	b.wantValue("gate/saw", 1)

	b.move(open, gpio.High)
	_, _, err = b.poller("gate/saw").Read()
	require.NoError(t, err)
	b.clock.Advance(moving)
	b.wantFault("gate/saw", Between)
	b.move(shut, gpio.Low)
	b.wantValue("gate/saw", 0)
	assert.Empty(t, b.set.Faults())

	b.move(open, gpio.Low)
	f := b.wantFault("gate/saw", BothEnds)
	assert.Contains(t, f.Error(), "pins GPIO22 and GPIO23")
	b.move(open, gpio.High)
	b.wantValue("gate/saw", 0)
}

func TestTwoContactsOneOfWhichIsMissing(t *testing.T) {
	b := newBench(t)
	b.shop.Collectors[0].Gates[0].Position = &shop.Source{Kind: shop.SourceGPIO, Pin: "GPIO22", ShutPin: "GPIO23"}
	b.open()
	b.wires.pins["GPIO22"] = &gpiotest.Pin{N: "GPIO22"}
	b.wantFault("gate/saw", NoPin)
	b.wires.pins["GPIO23"] = &gpiotest.Pin{N: "GPIO23"}
	b.clock.Advance(time.Minute)
	_, _, err := b.poller("gate/saw").Read()
	require.NoError(t, err)
	b.move(b.wires.pins["GPIO22"], gpio.High)
	b.wantValue("gate/saw", 1)
}

// TestAContactThatChatters: either of the two.
func TestAContactThatChatters(t *testing.T) {
	b, _, shut := withPair(t)
	for range 8 {
		b.move(shut, gpio.High)
		b.move(shut, gpio.Low)
	}
	b.wantFault("gate/saw", Chattering)
	b.clock.Advance(time.Minute)
	b.wantValue("gate/saw", 0)
}

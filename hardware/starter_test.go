package hardware

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware/abp2"
)

// twoOnABus is a bench with two ABP2 on one bus, which have been read once, and a clock that goes.
func twoOnABus(t *testing.T) (*bench, *wire, []Poller) {
	b := newBench(t)
	b.shop.Collectors[0].Sensors[1].From.Bus, b.shop.Collectors[0].Sensors[1].From.Address = "1", 0x38
	b.open()
	b.clock.Go()
	bus := b.wires.plugBus("1")
	bus.plug(0x28, &membrane{status: 0x40, counts: 0x900000})
	bus.plug(0x38, &membrane{status: 0x40, counts: 0x900000})
	both := []Poller{b.poller("main/filter drop"), b.poller("main/trunk")}
	for _, p := range both {
		_, _, err := p.Read()
		require.NoError(t, err)
	}
	return b, bus, both
}

// TestPartsOnABusMeasureAtTheSameTime: one conversion is waited for where all were told to measure first, and as many
// transfers are made as one by one.
func TestPartsOnABusMeasureAtTheSameTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, bus, both := twoOnABus(t)
		round := func() (time.Duration, int) {
			began, before := time.Now(), bus.transfers()
			for _, p := range both {
				_, _, err := p.Read()
				require.NoError(t, err)
			}
			return time.Since(began), bus.transfers() - before
		}
		took, transfers := round()
		assert.Equal(t, 2*abp2.Conversion, took)
		for _, p := range both {
			p.(Starter).Start()
		}
		together, fetches := round()
		assert.Equal(t, abp2.Conversion, together)
		assert.Equal(t, transfers, fetches+2, "the commands were given before")
		took, _ = round()
		assert.Equal(t, 2*abp2.Conversion, took, "what was begun is fetched once")
	})
}

// TestAPartThatGoesWhileItMeasures is a fault, and is not told to measure until it is back.
func TestAPartThatGoesWhileItMeasures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, bus, both := twoOnABus(t)
		both[0].(Starter).Start()
		bus.unplug(0x28)
		b.wantFault("main/filter drop", NotAnswering)
		before := bus.transfers()
		both[0].(Starter).Start()
		assert.Equal(t, before, bus.transfers())
		bus.plug(0x28, &membrane{status: 0x40, counts: 0x900000})
		time.Sleep(lastWait)
		_, _, err := both[0].Read()
		require.NoError(t, err)
		both[0].(Starter).Start()
		assert.Equal(t, 1, bus.transfers()-before-2)
	})
}

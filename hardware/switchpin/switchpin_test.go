package switchpin

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"
)

const ms = time.Millisecond

func TestPullHoldsTheSwitchAtRest(t *testing.T) {
	pin := &gpiotest.Pin{N: "GPIO17"}
	_, err := Open(pin, true, 50*ms)
	require.NoError(t, err)
	assert.Equal(t, gpio.PullUp, pin.P)
	_, err = Open(pin, false, 50*ms)
	require.NoError(t, err)
	assert.Equal(t, gpio.PullDown, pin.P)
}

// TestDebounce follows a pin over time: at each time the level is set and sampled.
func TestDebounce(t *testing.T) {
	type step struct {
		at    time.Duration
		level gpio.Level
		want  bool
	}
	for _, c := range []struct {
		name      string
		activeLow bool
		steps     []step
	}{
		{"the first level counts at once", false, []step{{0, gpio.High, true}}},
		{"active low turns it", true, []step{{0, gpio.High, false}, {100 * ms, gpio.Low, false}, {150 * ms, gpio.Low, true}}},
		{"a change counts after 50 ms", false, []step{{0, gpio.Low, false}, {10 * ms, gpio.High, false}, {59 * ms, gpio.High, false}, {60 * ms, gpio.High, true}}},
		{"a bounce begins the wait anew", false, []step{
			{0, gpio.Low, false}, {10 * ms, gpio.High, false}, {20 * ms, gpio.Low, false}, {30 * ms, gpio.High, false},
			{79 * ms, gpio.High, false}, {80 * ms, gpio.High, true},
		}},
		{"a spike is nothing", false, []step{{0, gpio.Low, false}, {10 * ms, gpio.High, false}, {20 * ms, gpio.Low, false}, {200 * ms, gpio.Low, false}}},
		{"sampled slowly, a change counts at the second sample", false, []step{{0, gpio.High, true}, {500 * ms, gpio.Low, true}, {1000 * ms, gpio.Low, false}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			pin := &gpiotest.Pin{N: "GPIO17"}
			s, err := Open(pin, c.activeLow, 50*ms)
			require.NoError(t, err)
			for _, st := range c.steps {
				require.NoError(t, pin.Out(st.level))
				got, err := s.Read(st.at)
				require.NoError(t, err)
				assert.Equal(t, st.want, got, "at %s", st.at)
			}
		})
	}
}

// TestChatter: a loose wire has no position, and one that rests again has.
func TestChatter(t *testing.T) {
	pin := &gpiotest.Pin{N: "GPIO17"}
	s, err := Open(pin, false, 50*ms)
	require.NoError(t, err)
	level, now := gpio.Low, time.Duration(0)
	var last error
	for range 12 {
		require.NoError(t, pin.Out(level))
		_, last = s.Read(now)
		level, now = !level, now+500*ms
	}
	require.Equal(t, ErrChatter, last)
	require.NoError(t, pin.Out(gpio.High))
	for range 21 {
		now += 500 * ms
		_, last = s.Read(now)
	}
	require.NoError(t, last)
	on, err := s.Read(now)
	require.NoError(t, err)
	assert.True(t, on)
}

// TestBusyHands: a gate that is opened and shut twice in ten seconds is no loose wire.
func TestBusyHands(t *testing.T) {
	pin := &gpiotest.Pin{N: "GPIO17"}
	s, err := Open(pin, false, 50*ms)
	require.NoError(t, err)
	for i := range 20 {
		require.NoError(t, pin.Out(gpio.Level(i/5%2 == 1)))
		_, err := s.Read(time.Duration(i) * 500 * ms)
		assert.NoError(t, err, "sample %d", i)
	}
}

type refusing struct{ gpiotest.Pin }

func (*refusing) In(gpio.Pull, gpio.Edge) error { return errors.New("in use") }

func TestOpenTellsWhichPin(t *testing.T) {
	_, err := Open(&refusing{gpiotest.Pin{N: "GPIO17", Num: 17}}, true, 0)
	assert.ErrorContains(t, err, "GPIO17")
	assert.ErrorContains(t, err, "in use")
}

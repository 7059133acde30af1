package ads1115

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
)

// TestRead by playback. Input 1 (MUX 101) at ±4.096 V (PGA 001), one conversion (MODE 1) at 32 a second (DR 010), no
// comparator (COMP_QUE 11): 1 101 001 1 010 00011, 0xD343; while it converts OS is 0, 0x5343. 14400 counts are 1.8 V.
func TestRead(t *testing.T) {
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{
		{Addr: 0x48, W: []byte{0x01, 0xD3, 0x43}},
		{Addr: 0x48, W: []byte{0x01}, R: []byte{0x53, 0x43}},
		{Addr: 0x48, W: []byte{0x01}, R: []byte{0xD3, 0x43}},
		{Addr: 0x48, W: []byte{0x00}, R: []byte{0x38, 0x40}},
	}}
	var slept time.Duration
	d := Dev{Bus: bus, Addr: 0x48, Input: 1, FullScale: 1, Sleep: func(s time.Duration) { slept += s }}
	counts, volts, err := d.Read()
	require.NoError(t, err)
	assert.Equal(t, int16(14400), counts)
	assert.InDelta(t, 1.8, volts, 1e-9)
	assert.Equal(t, 30*time.Millisecond, slept)
	require.NoError(t, bus.Close())
}

func answering(config uint16, conversion uint16) *i2ctest.Playback {
	ops := []i2ctest.IO{{Addr: 0x48, W: []byte{0x01, 0xC3, 0x43}}}
	for range readyTries {
		ops = append(ops, i2ctest.IO{Addr: 0x48, W: []byte{0x01}, R: []byte{byte(config >> 8), byte(config)}})
		if config != 0x4343 {
			break
		}
	}
	if config == 0xC343 {
		ops = append(ops, i2ctest.IO{Addr: 0x48, W: []byte{0x00}, R: []byte{byte(conversion >> 8), byte(conversion)}})
	}
	return &i2ctest.Playback{Ops: ops}
}

func TestWhatIsNoReading(t *testing.T) {
	rows := map[string]struct {
		config, conversion uint16
		want               error
	}{
		"the upper end":              {0xC343, 0x7FFF, ErrClipped},
		"the lower end":              {0xC343, 0x8000, ErrClipped},
		"never ready":                {0x4343, 0, ErrBusy},
		"as after power-up":          {0x8583, 0, ErrConfig}, // the register's reset value
		"another input was asked":    {0xD343, 0, ErrConfig},
		"a sound one just below":     {0xC343, 0x7FFE, nil},
		"nothing at all is a number": {0xC343, 0, nil},
	}
	for name, r := range rows {
		t.Run(name, func(t *testing.T) {
			bus := answering(r.config, r.conversion)
			d := Dev{Bus: bus, Addr: 0x48, FullScale: 1, Sleep: func(time.Duration) {}}
			_, _, err := d.Read()
			assert.Equal(t, r.want, err)
			require.NoError(t, bus.Close())
		})
	}
	for _, d := range []Dev{{Input: 4}, {Input: -1}, {FullScale: 6}} {
		_, _, err := d.Read()
		assert.Error(t, err)
	}
}

// TestVolts: the table "Full-Scale Range and LSB Size" gives 187.5, 125, 62.5, 31.25, 15.625 and 7.8125 µV a count.
func TestVolts(t *testing.T) {
	for i, lsb := range []float64{187.5e-6, 125e-6, 62.5e-6, 31.25e-6, 15.625e-6, 7.8125e-6} {
		assert.InDelta(t, lsb, Volts(1, i), 1e-12)
		assert.InDelta(t, -FullScales[i], Volts(-1<<15, i), 1e-12)
	}
}

func TestFullScaleFor(t *testing.T) {
	for volts, want := range map[float64]float64{0.2: 0.256, 0.256: 0.512, 3.15: 4.096, 4.096: 6.144, 5.25: 6.144, 99: 6.144} {
		assert.Equal(t, want, FullScales[FullScaleFor(volts)], "%g V", volts)
	}
}

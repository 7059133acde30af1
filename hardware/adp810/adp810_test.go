package adp810

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"ductward/hardware/sdp8xx"
)

// frame puts the checksums of section 5.4 behind each word.
func frame(words ...uint16) (out []byte) {
	for _, w := range words {
		out = append(out, byte(w>>8), byte(w), sdp8xx.CRC(byte(w>>8), byte(w)))
	}
	return out
}

func device(answer []byte) (*Dev, *i2ctest.Playback) {
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{{Addr: 0x25, W: []byte{0x37, 0x2D}}, {Addr: 0x25, R: answer}}}
	return &Dev{Bus: bus, Addr: Address, Sleep: func(time.Duration) {}}, bus
}

// TestRead by playback: 6000, −6000 and 0 counts of 1/60 Pa, and 23 °C, which are 4600 counts of 1/200 K.
func TestRead(t *testing.T) {
	for counts, want := range map[int16]float64{6000: 100, -6000: -100, 0: 0, 29999: 499.983} {
		d, bus := device(frame(uint16(counts), 4600, 60))
		s, err := d.Read()
		require.NoError(t, err)
		assert.InDelta(t, want, s.Pressure, 0.001, "Pa")
		assert.InDelta(t, 296.15, s.Temperature, 0.001, "K")
		require.NoError(t, bus.Close())
	}
}

func TestWhatIsNoReading(t *testing.T) {
	damaged := frame(6000, 4600, 60)
	damaged[1] ^= 1
	rows := map[string]struct {
		answer []byte
		want   error
	}{
		"a damaged byte": {damaged, sdp8xx.ErrCRC},
		"the upper end":  {frame(30000, 4600, 60), sdp8xx.ErrHigh},
		"the lower end":  {frame(0x8AD0, 4600, 60), sdp8xx.ErrLow}, // −30 000
		"another range":  {frame(6000, 4600, 240), sdp8xx.ErrRange},
		"no scale":       {frame(6000, 4600, 0), sdp8xx.ErrScale},
	}
	for name, r := range rows {
		t.Run(name, func(t *testing.T) {
			d, _ := device(r.answer)
			_, err := d.Read()
			assert.Equal(t, r.want, err)
		})
	}
	d := Dev{Bus: &i2ctest.Playback{DontPanic: true}, Addr: Address, Sleep: func(time.Duration) {}}
	_, err := d.Read()
	assert.Error(t, err, "nobody answers")
}

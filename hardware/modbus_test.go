package hardware

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware/modbusin"
	"ductward/internal/shop"
)

// oneLine stands in for every Modbus line.
type oneLine struct {
	*wires
	words []uint16
	err   error
	asked int
}

func (l *oneLine) Line(modbusin.Setting) (modbusin.Reader, error) { return l, nil }
func (l *oneLine) Close() error                                   { return nil }

func (l *oneLine) Registers(uint8, bool, uint16, uint16) ([]uint16, error) {
	l.asked++
	return l.words, l.err
}

func (l *oneLine) Bit(uint8, bool, uint16) (bool, error) { return len(l.words) > 0, l.err }

// TestRegistersThatHoldNoPressure: what a Modbus station can send that is none, and what the line can do.
func TestRegistersThatHoldNoPressure(t *testing.T) {
	b := newBench(t)
	b.shop.Collectors[0].Sensors[0].From = shop.Source{Kind: shop.SourceModbus, URL: "tcp://there:502", Station: 1, Format: shop.Float32, Factor: 1, Unit: "Pa"}
	l := &oneLine{wires: b.wires, words: []uint16{0x42F6, 0xE979}}
	set, err := Open(b.shop, l, b.clock, b.logger())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, set.Close()) })
	b.set = set
	b.wantValue("main/filter drop", 123.456)
	rows := []struct {
		name  string
		words []uint16
		err   error
		want  Code
	}{
		{"NaN", []uint16{0x7FC0, 0}, nil, ChipError},
		{"infinity", []uint16{0x7F80, 0}, nil, ChipError},
		{"1e30", []uint16{0x7149, 0xF2CA}, nil, Refused},
		{"an exception", nil, modbusin.ErrRefused, ChipError},
		{"a damaged frame", nil, modbusin.ErrDamaged, BadCRC},
		{"silence", nil, modbusin.ErrSilent, NotAnswering},
		{"no line", nil, modbusin.ErrNoLine, NoBus},
		{"something else", nil, errors.New("odd"), NotAnswering},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			l.words, l.err = r.words, r.err
			f := b.wantFault("main/filter drop", r.want)
			assert.Contains(t, f.Where, "tcp://there:502 station 1 input register 0")
			l.words, l.err = []uint16{0x42F6, 0xE979}, nil
			b.clock.Advance(time.Minute)
			b.wantValue("main/filter drop", 123.456)
		})
	}
	l.err = modbusin.ErrSilent
	b.wantFault("main/filter drop", NotAnswering)
	asked := l.asked
	b.wantFault("main/filter drop", NotAnswering)
	assert.Equal(t, asked, l.asked, "a station that does not answer is left alone for a while")
}

package modbusin

import (
	"io"
	"log"
	"math"
	"net"
	"testing"
	"time"

	"github.com/simonvetter/modbus"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDecode: the words of −1250 and of 1e6 as two's complement, and of 123.456 as IEEE 754 (0x42F6E979).
func TestDecode(t *testing.T) {
	rows := []struct {
		words    []uint16
		as       Format
		lowFirst bool
		want     float64
	}{
		{[]uint16{0xFB1E}, Int16, false, -1250},
		{[]uint16{0xFB1E}, Uint16, false, 64286},
		{[]uint16{0x8000}, Int16, false, -32768},
		{[]uint16{0x000F, 0x4240}, Int32, false, 1e6},
		{[]uint16{0x4240, 0x000F}, Int32, true, 1e6},
		{[]uint16{0xFFFF, 0xFB1E}, Int32, false, -1250},
		{[]uint16{0xFFFF, 0xFFFF}, Uint32, false, 4294967295},
		{[]uint16{0x42F6, 0xE979}, Float32, false, 123.456},
		{[]uint16{0xE979, 0x42F6}, Float32, true, 123.456},
	}
	for _, r := range rows {
		got, err := Decode(r.words, r.as, r.lowFirst)
		require.NoError(t, err)
		assert.InDelta(t, r.want, got, 1e-5)
		assert.Equal(t, r.words, Encode(got, r.as, r.lowFirst))
	}
	for _, bits := range []uint32{0x7FC00000, 0x7F800000, 0xFF800000} {
		_, err := Decode([]uint16{uint16(bits >> 16), uint16(bits)}, Float32, false)
		assert.ErrorIs(t, err, ErrNoNumber, "NaN and ±Inf")
	}
	_, err := Decode([]uint16{1}, Int32, false)
	assert.Error(t, err)
	assert.Equal(t, []uint16{0x7FFF}, Encode(1e300, Int16, false))
	assert.Equal(t, []uint16{0}, Encode(-5, Uint16, false))
	assert.Equal(t, []uint16{0x7F80, 0}, Encode(math.Inf(1), Float32, false))
}

// station is a server of one station with some registers.
type station struct {
	words []uint16
}

func (s *station) HandleCoils(r *modbus.CoilsRequest) ([]bool, error) {
	return []bool{r.Addr == 2}, nil
}

func (s *station) HandleDiscreteInputs(r *modbus.DiscreteInputsRequest) ([]bool, error) {
	return []bool{r.Addr == 3}, nil
}

func (s *station) HandleHoldingRegisters(*modbus.HoldingRegistersRequest) ([]uint16, error) {
	return []uint16{7}, nil
}

func (s *station) HandleInputRegisters(r *modbus.InputRegistersRequest) ([]uint16, error) {
	switch {
	case r.UnitId != 5:
		return nil, modbus.ErrGWTargetFailedToRespond
	case int(r.Addr)+int(r.Quantity) > len(s.words):
		return nil, modbus.ErrIllegalDataAddress
	}
	return s.words[r.Addr : r.Addr+r.Quantity], nil
}

// serve starts a server on loopback and returns its URL.
func serve(t *testing.T, s *station) (string, *modbus.ModbusServer) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	url := "tcp://" + l.Addr().String()
	require.NoError(t, l.Close())
	server, err := modbus.NewServer(&modbus.ServerConfiguration{URL: url, Timeout: time.Minute, MaxClients: 4, Logger: log.New(io.Discard, "", 0)}, s)
	require.NoError(t, err)
	require.NoError(t, server.Start())
	return url, server
}

func TestLine(t *testing.T) {
	url, server := serve(t, &station{words: []uint16{10, 20, 0xFB1E}})
	l := NewLine(Setting{URL: url, timeout: time.Minute})
	words, err := l.Registers(5, false, 1, 2)
	require.NoError(t, err)
	assert.Equal(t, []uint16{20, 0xFB1E}, words)
	words, err = l.Registers(5, true, 40, 1)
	require.NoError(t, err)
	assert.Equal(t, []uint16{7}, words)
	set, err := l.Bit(5, false, 3)
	require.NoError(t, err)
	assert.True(t, set)
	set, err = l.Bit(5, true, 3)
	require.NoError(t, err)
	assert.False(t, set)

	_, err = l.Registers(5, false, 2, 2)
	assert.ErrorIs(t, err, ErrRefused)
	_, err = l.Registers(6, false, 0, 1)
	assert.ErrorIs(t, err, ErrSilent, "a gateway whose station does not answer")

	require.NoError(t, server.Stop())
	_, err = l.Registers(5, false, 0, 1)
	assert.Error(t, err)
	_, err = l.Registers(5, false, 0, 1)
	assert.ErrorIs(t, err, ErrNoLine, "nobody listens")
	require.NoError(t, server.Start())
	words, err = l.Registers(5, false, 0, 1)
	require.NoError(t, err, "and it opens again by itself")
	assert.Equal(t, []uint16{10}, words)
	require.NoError(t, l.Close())
	require.NoError(t, l.Close())
	require.NoError(t, server.Stop())
}

func TestALineThatIsNotThere(t *testing.T) {
	for _, url := range []string{"rtu:///dev/no-such-line", "tcp://127.0.0.1:1", "carrier-pigeon://loft"} {
		_, err := NewLine(Setting{URL: url, Parity: None, Baud: 9600}).Bit(1, false, 0)
		assert.ErrorIs(t, err, ErrNoLine, url)
	}
}

//go:build linux

package modbusin

import (
	"fmt"
	"io"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// terminal returns a pseudo-terminal: the end that a station holds, and the path of the other one, as of a serial line.
func terminal(t *testing.T) (*os.File, string) {
	t.Helper()
	m, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	require.NoError(t, err)
	t.Cleanup(func() { _ = m.Close() })
	require.NoError(t, unix.IoctlSetPointerInt(int(m.Fd()), unix.TIOCSPTLCK, 0))
	n, err := unix.IoctlGetInt(int(m.Fd()), unix.TIOCGPTN)
	require.NoError(t, err)
	return m, fmt.Sprintf("/dev/pts/%d", n)
}

// TestSerialLine: byte for byte over a serial line. Station 5 is asked for two input registers from 1 on (function 4), and
// answers 0x42F6 and 0xE979, or an exception, or with a wrong checksum. The checksums, low byte first, are by the guide's
// polynomial 0xA001 from 0xFFFF (section 6.2.2), bit by bit below.
func TestSerialLine(t *testing.T) {
	station, path := terminal(t)
	answers := [][]byte{
		framed(5, 4, 4, 0x42, 0xF6, 0xE9, 0x79),
		framed(5, 0x84, 2),
		append([]byte{5, 4, 4, 0x42, 0xF6, 0xE9, 0x79}, 0, 0),
	}
	asked := make(chan []byte, len(answers))
	go func() {
		for _, a := range answers {
			question := make([]byte, 8)
			if _, err := io.ReadFull(station, question); err != nil {
				return
			}
			asked <- question
			_, _ = station.Write(a)
		}
	}()
	l := NewLine(Setting{URL: "rtu://" + path, Baud: 19200, Parity: None, timeout: time.Minute})
	words, err := l.Registers(5, false, 1, 2)
	require.NoError(t, err)
	assert.Equal(t, framed(5, 4, 0, 1, 0, 2), <-asked)
	assert.Equal(t, []uint16{0x42F6, 0xE979}, words)
	_, err = l.Registers(5, false, 1, 2)
	assert.ErrorIs(t, err, ErrRefused)
	_, err = l.Registers(5, false, 1, 2)
	assert.ErrorIs(t, err, ErrDamaged)
	require.NoError(t, l.Close())
}

// framed puts the checksum behind a frame.
func framed(b ...byte) []byte {
	crc := uint16(0xFFFF)
	for _, x := range b {
		crc ^= uint16(x)
		for range 8 {
			carry := crc & 1
			crc >>= 1
			if carry != 0 {
				crc ^= 0xA001
			}
		}
	}
	return append(b, byte(crc), byte(crc>>8))
}

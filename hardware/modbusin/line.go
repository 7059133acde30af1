package modbusin

import (
	"errors"
	"fmt"
	"io"
	"log"
	"time"

	"github.com/simonvetter/modbus"
)

// Reader reads stations. It is for one goroutine.
type Reader interface {
	// Registers reads input registers, or holding ones.
	Registers(station uint8, holding bool, address, count uint16) ([]uint16, error)
	// Bit reads a discrete input, or a coil.
	Bit(station uint8, coil bool, address uint16) (bool, error)
	Close() error
}

// Parity is that of a serial line.
type Parity uint

// The parities.
const (
	Even Parity = iota
	Odd
	None
)

// Setting says where a line is.
type Setting struct {
	URL    string // rtu:///dev/ttyUSB0 or tcp://HOST:PORT
	Baud   uint   // of a serial line; 0: 19200
	Parity Parity // of a serial line

	timeout time.Duration // for tests; 0: the usual one
}

// timeout is how long a station may take to answer. The guide leaves it to the system; common practice, no source.
const timeout = 500 * time.Millisecond

// The reasons why there is no answer.
var (
	ErrNoLine   = errors.New("the line cannot be opened")
	ErrSilent   = errors.New("the station does not answer")
	ErrDamaged  = errors.New("the answer was damaged on the wire")
	ErrRefused  = errors.New("the station refuses the question")
	ErrNoNumber = errors.New("the registers hold no finite number")
)

// Line is a line to stations. It opens by itself when it is first asked, and again after it failed.
type Line struct {
	setting Setting
	client  *modbus.ModbusClient // nil: not open
}

// NewLine returns a line, which is not opened yet.
func NewLine(s Setting) *Line { return &Line{setting: s} }

func (l *Line) open() error {
	if l.client != nil {
		return nil
	}
	limit := l.setting.timeout
	if limit == 0 {
		limit = timeout
	}
	parity := map[Parity]uint{Even: modbus.PARITY_EVEN, Odd: modbus.PARITY_ODD, None: modbus.PARITY_NONE}[l.setting.Parity]
	c, err := modbus.NewClient(&modbus.ClientConfiguration{URL: l.setting.URL, Speed: l.setting.Baud, Parity: parity, Timeout: limit,
		Logger: log.New(io.Discard, "", 0)}) // it would write to standard output
	if err == nil {
		err = c.Open()
	}
	if err != nil {
		return fmt.Errorf("%w: %s: %w", ErrNoLine, l.setting.URL, err)
	}
	l.client = c
	return nil
}

// Registers reads registers (function 4, or 3 for holding ones).
func (l *Line) Registers(station uint8, holding bool, address, count uint16) (words []uint16, err error) {
	kind := modbus.INPUT_REGISTER
	if holding {
		kind = modbus.HOLDING_REGISTER
	}
	err = l.ask(station, func() error {
		words, err = l.client.ReadRegisters(address, count, kind)
		return err
	})
	return words, err
}

// Bit reads one bit (function 2, or 1 for a coil).
func (l *Line) Bit(station uint8, coil bool, address uint16) (set bool, err error) {
	err = l.ask(station, func() error {
		if coil {
			set, err = l.client.ReadCoil(address)
		} else {
			set, err = l.client.ReadDiscreteInput(address)
		}
		return err
	})
	return set, err
}

// ask asks a station. After anything but an answer or a refusal the line is closed: what may still come would be taken
// for the answer to the next question.
func (l *Line) ask(station uint8, question func() error) error {
	if err := l.open(); err != nil {
		return err
	}
	if err := l.client.SetUnitId(station); err != nil {
		return err
	}
	err := question()
	if err == nil {
		return nil
	}
	if isRefusal(err) {
		return fmt.Errorf("%w: station %d: %w", ErrRefused, station, err)
	}
	_ = l.Close() // the first error says what is wrong
	if errors.Is(err, modbus.ErrBadCRC) || errors.Is(err, modbus.ErrShortFrame) || errors.Is(err, modbus.ErrProtocolError) {
		return fmt.Errorf("%w: station %d: %w", ErrDamaged, station, err)
	}
	return fmt.Errorf("%w: station %d: %w", ErrSilent, station, err)
}

// isRefusal tells whether a station has answered with an exception (section 7 of the protocol). A gateway whose station
// does not answer is no refusal.
func isRefusal(err error) bool {
	for _, e := range []error{modbus.ErrIllegalFunction, modbus.ErrIllegalDataAddress, modbus.ErrIllegalDataValue, modbus.ErrServerDeviceFailure,
		modbus.ErrAcknowledge, modbus.ErrServerDeviceBusy, modbus.ErrMemoryParityError} {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

// Close closes the line; it opens again when it is asked.
func (l *Line) Close() error {
	if l.client == nil {
		return nil
	}
	c := l.client
	l.client = nil
	return c.Close()
}

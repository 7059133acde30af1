package hardware

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2creg"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/host/v3"
	"periph.io/x/host/v3/sysfs"
)

// transferLimit bounds one transfer on a bus of the board. The kernel gives up after one second by itself on most
// boards, so a transfer that takes longer than that is stuck for good.
const transferLimit = 1500 * time.Millisecond

// reopenAfter is how many transfers in a row must fail on a bus before its device is opened anew, as an adapter on USB
// needs when it was unplugged. It is more than one dead sensor makes while another on the bus still answers.
const reopenAfter = 8

// Host is the board's own buses and pins. It is safe for concurrent use.
type Host struct {
	open func(name string) (i2c.BusCloser, error)

	mu    sync.Mutex
	buses map[string]*hostBus
}

// HostBuses finds the board's buses and pins. Close gives them back.
func HostBuses() (*Host, error) {
	if _, err := host.Init(); err != nil {
		return nil, fmt.Errorf("find the board's buses and pins: %w", err)
	}
	return newHost(openHostBus), nil
}

func newHost(open func(string) (i2c.BusCloser, error)) *Host {
	return &Host{open: open, buses: map[string]*hostBus{}}
}

// openHostBus opens a bus by the name that the board gave it when the program started, or else by its number, for one
// that came later.
func openHostBus(name string) (i2c.BusCloser, error) {
	bus, err := i2creg.Open(name)
	if err == nil {
		return bus, nil
	}
	number, e := strconv.Atoi(strings.TrimPrefix(name, "/dev/i2c-"))
	if e != nil {
		return nil, err
	}
	late, e := sysfs.NewI2C(number)
	if e != nil {
		return nil, e
	}
	return late, nil
}

// I2C returns the bus of that name, such as "1" or "/dev/i2c-1". Its transfers are bounded in time, and it opens its
// device anew by itself.
func (h *Host) I2C(name string) (i2c.Bus, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if b, ok := h.buses[name]; ok {
		return b, nil
	}
	b := &hostBus{name: name, open: h.open}
	if err := b.connect(); err != nil {
		return nil, fmt.Errorf("i2c bus %q: %w", name, err)
	}
	h.buses[name] = b
	return b, nil
}

// I2CNames lists the board's I²C buses as a shop file names them, by their numbers where they have one.
func (h *Host) I2CNames() []string {
	var names []string
	for _, r := range i2creg.All() {
		if r.Number >= 0 {
			names = append(names, strconv.Itoa(r.Number))
		} else {
			names = append(names, r.Name)
		}
	}
	return names
}

// Pin returns the pin of that name, such as "GPIO17".
func (h *Host) Pin(name string) (gpio.PinIn, error) {
	if p := gpioreg.ByName(name); p != nil {
		return p, nil
	}
	return nil, fmt.Errorf("pin %q: the board has no pin of that name", name)
}

// Output returns the pin of that name to be driven.
func (h *Host) Output(name string) (gpio.PinOut, error) {
	if p := gpioreg.ByName(name); p != nil {
		return p, nil
	}
	return nil, fmt.Errorf("pin %q: the board has no pin of that name", name)
}

// Close closes all buses. A bus that hangs is left to the end of the process.
func (h *Host) Close() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	var errs []error
	for _, b := range h.buses {
		errs = append(errs, b.close())
	}
	clear(h.buses)
	return errors.Join(errs...)
}

// hostBus is a bus whose device may be opened anew below it.
type hostBus struct {
	name string
	open func(string) (i2c.BusCloser, error)

	mu     sync.Mutex
	device io.Closer // nil: it could not be opened again
	bus    *Bounded
	failed int // transfers in a row
}

func (b *hostBus) connect() error {
	device, err := b.open(b.name)
	if err != nil {
		return err
	}
	b.device, b.bus, b.failed = device, NewBounded(device, transferLimit), 0
	return nil
}

func (b *hostBus) String() string { return "i2c " + b.name }

// SetSpeed sets the speed of the bus, which on most boards is that of all buses.
func (b *hostBus) SetSpeed(f physic.Frequency) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.bus == nil {
		return fmt.Errorf("i2c bus %q: not open", b.name)
	}
	return b.bus.SetSpeed(f)
}

// Tx makes one transfer.
func (b *hostBus) Tx(addr uint16, w, r []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.bus == nil {
		if err := b.connect(); err != nil {
			return fmt.Errorf("i2c bus %q: open again: %w", b.name, err)
		}
	}
	err := b.bus.Tx(addr, w, r)
	if err == nil {
		b.failed = 0
		return nil
	}
	if b.failed++; b.failed >= reopenAfter && !b.bus.Hanging() {
		b.disconnect()
	}
	return err
}

// disconnect closes the device, so that the next transfer opens it again.
func (b *hostBus) disconnect() error {
	if b.bus == nil {
		return nil
	}
	err := errors.Join(b.bus.Close(), b.device.Close())
	b.bus, b.device = nil, nil
	return err
}

func (b *hostBus) close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.bus != nil && b.bus.Hanging() {
		return b.bus.Close() // its device is in use; closing it would wait for the transfer
	}
	return b.disconnect()
}

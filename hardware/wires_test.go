package hardware

import (
	"errors"
	"fmt"
	"sync"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

var errNACK = errors.New("no acknowledge")

// wires are buses for tests: parts that are plugged in and out.
type wires struct {
	mu    sync.Mutex
	buses map[string]*wire
	pins  map[string]*gpiotest.Pin
	outs  map[string]gpio.PinOut
}

func newWires() *wires {
	return &wires{buses: map[string]*wire{}, pins: map[string]*gpiotest.Pin{}, outs: map[string]gpio.PinOut{}}
}

func (w *wires) I2C(name string) (i2c.Bus, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if b, ok := w.buses[name]; ok {
		return b, nil
	}
	return nil, fmt.Errorf("i2c bus %q: not there", name)
}

func (w *wires) Pin(name string) (gpio.PinIn, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p, ok := w.pins[name]; ok {
		return p, nil
	}
	return nil, fmt.Errorf("pin %q: not there", name)
}

func (w *wires) Output(name string) (gpio.PinOut, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p, ok := w.outs[name]; ok {
		return p, nil
	}
	return nil, fmt.Errorf("pin %q: not there", name)
}

func (w *wires) plugBus(name string) *wire {
	w.mu.Lock()
	defer w.mu.Unlock()
	b := &wire{name: name, parts: map[uint16]part{}}
	w.buses[name] = b
	return b
}

// part answers the transfers at its address.
type part interface {
	tx(w, r []byte) error
}

// wire is one bus.
type wire struct {
	name  string
	mu    sync.Mutex
	parts map[uint16]part
	count int // transfers
}

func (b *wire) String() string                    { return b.name }
func (b *wire) SetSpeed(_ physic.Frequency) error { return nil }

func (b *wire) Tx(addr uint16, w, r []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.count++
	if p, ok := b.parts[addr]; ok {
		return p.tx(w, r)
	}
	return errNACK
}

func (b *wire) plug(addr uint16, p part) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.parts[addr] = p
}

func (b *wire) unplug(addr uint16) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.parts, addr)
}

func (b *wire) transfers() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.count
}

// membrane is an ABP2: it answers its count, which moves by itself as noise moves it, unless it is stuck.
type membrane struct {
	status byte
	counts uint32
	stuck  bool
}

func (m *membrane) tx(w, r []byte) error {
	if len(r) == 0 {
		return nil
	}
	if !m.stuck {
		m.counts ^= 1
	}
	copy(r, []byte{m.status, byte(m.counts >> 16), byte(m.counts >> 8), byte(m.counts), 0x60, 0, 0})
	return nil
}

// thermal is an SDP8xx: it measures only after it was started, and forgets that when it loses its supply.
type thermal struct {
	product uint32
	counts  int16
	scale   uint16
	damage  int // that many of the next answers have a wrong byte
	deaf    int // that many of the next transfers are not acknowledged
	started bool
	asked   bool // for its product number
	starts  int
}

func (p *thermal) tx(w, r []byte) error {
	if p.deaf > 0 {
		p.deaf--
		return errNACK
	}
	switch string(w) {
	case "\x3F\xF9":
		if !p.started {
			return errNACK
		}
		p.started = false
	case "\x36\x7C", "\xE1\x02":
		if p.started {
			return errNACK
		}
		p.asked = true
	case "\x36\x15":
		p.started, p.asked = true, false
		p.starts++
	case "":
		return p.answer(r)
	}
	return nil
}

func (p *thermal) answer(r []byte) error {
	if p.asked {
		copy(r, checked(uint16(p.product>>16), uint16(p.product), 0, 0, 0, 1))
		return nil
	}
	if !p.started {
		return errNACK
	}
	copy(r, checked(uint16(p.counts), 5000, p.scale))
	if p.damage > 0 {
		p.damage--
		r[1] ^= 0xFF
	}
	return nil
}

// checked puts the checksum behind each word, bit by bit.
func checked(words ...uint16) (out []byte) {
	for _, w := range words {
		crc := uint16(0xFF)
		for _, b := range []uint16{w >> 8, w & 0xFF} {
			crc ^= b
			for range 8 {
				crc <<= 1
				if crc&0x100 != 0 {
					crc ^= 0x131
				}
			}
		}
		out = append(out, byte(w>>8), byte(w), byte(crc))
	}
	return out
}

// Package mux reaches parts behind I²C multiplexers of eight ports: NXP PCA9548A, TI TCA9548A and their like.
//
// Datasheets: TI SCPS207F, "TCA9548A Low-Voltage 8-Channel I2C Switch", of which were seen table 1 (the addresses, 0x70 to
// 0x77) and section 8.5.4 with table 2 (bit n joins port n after the stop condition, several may be joined, of several bytes
// the last holds, after power-up none is joined); and NXP PCA9548A, rev. 5.1, from memory.
//
// The library that knows this part, periph's devices/v3/pca9548, remembers which port it joined last. After the supply of
// the multiplexer failed for a moment it would then join no port any more, and with two multiplexers on one bus, whose
// parts have one address, it leaves both joined: two parts answer at once, and what comes is a pressure that neither
// measured. So the port is chosen here before every transfer, which costs two bytes, and what may be joined elsewhere on
// the bus is let go first.
package mux

import (
	"fmt"
	"slices"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// The addresses that the parts can have.
const (
	First uint16 = 0x70
	Last  uint16 = 0x77
)

// Ports is how many ports a multiplexer has.
const Ports = 8

// Trunk is what the multiplexers of one bus have in common. It is for one goroutine.
type Trunk struct {
	all    []uint16
	joined map[uint16]bool // may have a port joined; at first all may, since another program may have left them so
}

// Add tells of a multiplexer on the bus.
func (t *Trunk) Add(address uint16) {
	if t.joined == nil {
		t.joined = map[uint16]bool{}
	}
	if !slices.Contains(t.all, address) {
		t.all = append(t.all, address)
		t.joined[address] = true
	}
}

// Port is the bus behind one port. It is for the goroutine of its bus.
type Port struct {
	Trunk *Trunk
	Bus   i2c.Bus // on which the multiplexer is
	Mux   uint16
	Port  int
}

// String names the port.
func (p *Port) String() string { return fmt.Sprintf("%s mux 0x%02X port %d", p.Bus, p.Mux, p.Port) }

// SetSpeed sets the speed of the bus that the multiplexer is on.
func (p *Port) SetSpeed(f physic.Frequency) error { return p.Bus.SetSpeed(f) }

// Tx makes one transfer behind the port.
func (p *Port) Tx(address uint16, w, r []byte) error {
	for _, other := range p.Trunk.all {
		if other != p.Mux && p.Trunk.joined[other] {
			p.letGo(other)
		}
	}
	p.Trunk.joined[p.Mux] = true
	if err := p.Bus.Tx(p.Mux, []byte{1 << p.Port}, nil); err != nil {
		return fmt.Errorf("multiplexer 0x%02X: %w", p.Mux, err)
	}
	return p.Bus.Tx(address, w, r)
}

// letGo lets another multiplexer's ports go. One that answers neither of two attempts is away, and with it its ports: the
// parts of those that are there are not given up for it.
func (p *Port) letGo(other uint16) {
	if p.Bus.Tx(other, []byte{0}, nil) != nil {
		_ = p.Bus.Tx(other, []byte{0}, nil)
	}
	p.Trunk.joined[other] = false
}

package rig

import "errors"

// errCollision is what comes where two parts answer at once. Real ones would answer the bits that either pulls low.
var errCollision = errors.New("rig: i2c: two parts answer at one address")

// mux is a simulated PCA9548A: its one register says which of its eight ports are joined.
type mux struct {
	addr    uint16
	control byte
}

// transfer writes or reads the control register.
func (m *mux) transfer(w, r []byte) error {
	if len(w) > 0 {
		m.control = w[len(w)-1]
	}
	for i := range r {
		r[i] = m.control
	}
	return nil
}

// place is where a part hangs: on the bus itself, or behind a port.
type place struct {
	device
	mux  *mux
	port int
}

// heard tells whether a part hears what is said on the bus.
func (p *place) heard() bool { return p.mux == nil || p.mux.control&(1<<p.port) != 0 }

// muxAt returns the multiplexer of an address, made when it is first asked for; nil for no address.
func (b *bus) muxAt(address uint16) *mux {
	if address == 0 {
		return nil
	}
	for _, m := range b.muxes {
		if m.addr == address {
			return m
		}
	}
	// A program that ended before may have left any port joined.
	m := &mux{addr: address, control: 1}
	b.muxes = append(b.muxes, m)
	return m
}

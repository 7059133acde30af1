package hardware

import (
	"fmt"
	"strings"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/mux"
	"ductward/internal/shop"
)

// way is the way to a chip: a bus, or a port of a multiplexer on it.
type way struct {
	buses Buses
	bus   string
	trunk *mux.Trunk // of the bus
	mux   uint16     // 0: the chip is on the bus itself
	port  int
}

// way returns the way to a source's chip. All the multiplexers of a bus must be known before one of them is used.
func (b *builder) way(f *shop.Source) way {
	key := busKey(f.Bus)
	t := b.trunks[key]
	if t == nil {
		t = &mux.Trunk{}
		b.trunks[key] = t
	}
	if f.Mux != 0 {
		t.Add(f.Mux)
	}
	return way{buses: b.buses, bus: f.Bus, trunk: t, mux: f.Mux, port: f.Port}
}

// busKey is how a bus is known, whichever way the shop file writes it.
func busKey(name string) string {
	return strings.TrimPrefix(strings.TrimPrefix(name, "/dev/i2c-"), "I2C")
}

// place says where a chip is, for a person.
func (w *way) place(address uint16) string {
	if w.mux == 0 {
		return fmt.Sprintf("i2c bus %q address 0x%02X", w.bus, address)
	}
	return fmt.Sprintf("i2c bus %q mux 0x%02X port %d address 0x%02X", w.bus, w.mux, w.port, address)
}

// open asks for the bus anew each time: it may have been missing, or have been opened again.
func (w *way) open() (i2c.Bus, error) {
	bus, err := w.buses.I2C(w.bus)
	if err != nil || w.mux == 0 {
		return bus, err
	}
	return &mux.Port{Trunk: w.trunk, Bus: bus, Mux: w.mux, Port: w.port}, nil
}

package main

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/pflag"

	"ductward/hardware"
	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/quantity"
	"ductward/internal/shop"
	"ductward/internal/store"
)

// wiresFlags says through which wires a command reads sensors.
type wiresFlags struct {
	simulated bool
	data      string
}

func (f *wiresFlags) add(fl *pflag.FlagSet) {
	fl.BoolVar(&f.simulated, "simulated", false, "read a simulated plant of the shop's own drawing instead of this board")
	fl.StringVar(&f.data, "data", "", `folder of a "ductward run" that may have the buses (default `+systemData+" where it exists, else ./"+nearData+")")
}

// wires are buses with the clock that goes with them.
type wires struct {
	buses  hardware.Buses
	clock  clock.Clock
	still  *rig.Still // nil: this board
	closes io.Closer  // nil: nothing to close
}

// Close gives the buses back.
func (w *wires) Close() error {
	if w.closes == nil {
		return nil
	}
	return w.closes.Close()
}

// openWires opens this board's buses, unless a running watch has them, or the simulated ones. On simulated wires a look
// that ends by itself takes no time.
func openWires(s *shop.Shop, f wiresFlags, ends bool) (*wires, error) {
	if f.simulated {
		return simulate(s, ends)
	}
	if err := store.Held(dataFolder(f.data)); errors.Is(err, store.ErrInUse) {
		return nil, fmt.Errorf("\"ductward run\" reads these buses, and two readers disturb each other: stop it first, or look at its page Sensors: %w", err)
	}
	host, err := hardware.HostBuses()
	if err != nil {
		return nil, err
	}
	return &wires{buses: host, clock: clock.NewSystem(), closes: host}, nil
}

func simulate(s *shop.Shop, ends bool) (*wires, error) {
	clk := clock.NewVirtual(time.Now())
	if !ends {
		clk.Go()
	}
	still, err := rig.NewStill(s, clk, demoSeed)
	if err != nil {
		return nil, err
	}
	return &wires{buses: still, clock: clk, still: still}, nil
}

// parseDuration reads a time with its unit.
func parseDuration(s string) (time.Duration, error) {
	seconds, err := quantity.Parse(quantity.Duration, s)
	return time.Duration(seconds * float64(time.Second)), err
}

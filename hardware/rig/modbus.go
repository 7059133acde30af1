package rig

import (
	"errors"
	"fmt"
	"time"

	"ductward/hardware/modbusin"
	"ductward/internal/quantity"
	"ductward/internal/shop"
)

// registerAt is the place of a value on the rig's Modbus lines.
type registerAt struct {
	url     string
	station uint8
	table   shop.RegisterTable
	number  uint16
}

// stationValue is one value of a simulated station, as one channel of the shop.
type stationValue struct {
	from   shop.Source
	value  func(now time.Duration) float64 // in the source's unit, over its factor
	faults faults
	last   []uint16
}

func (v *stationValue) fail(f fault) error {
	if f == latchUp {
		return errors.New("a Modbus station does not latch up")
	}
	return v.faults.set(f)
}

func (v *stationValue) mend() { v.faults = faults{} }

// station wires a channel to a value of a station.
func (r *Rig) station(channel string, f *shop.Source, value func(time.Duration) float64) error {
	at := registerAt{f.URL, f.Station, f.Table, f.Register}
	if r.stations[at] != nil {
		return fmt.Errorf("rig: channel %q: register %d of station %d on %s is taken", channel, f.Register, f.Station, f.URL)
	}
	v := &stationValue{from: *f, value: value}
	r.stations[at], r.channels[channel] = v, v
	return nil
}

// measuredAt wires a sensor to registers.
func (r *Rig) measuredAt(channel string, s *shop.Sensor, pr *probe) error {
	kind, err := kindOf(s.Measures)
	if err != nil {
		return fmt.Errorf("rig: channel %q: %w", channel, err)
	}
	if _, err := quantity.FromSI(kind, s.From.Unit, 0); err != nil {
		return fmt.Errorf("rig: channel %q: %w", channel, err)
	}
	return r.station(channel, &s.From, func(now time.Duration) float64 {
		v, _ := quantity.FromSI(kind, s.From.Unit, pr.sample(now)) // the unit was tried above
		return v / s.From.Factor
	})
}

// Line returns the rig's end of a Modbus line on which the shop has stations.
func (r *Rig) Line(s modbusin.Setting) (modbusin.Reader, error) {
	for at := range r.stations {
		if at.url == s.URL {
			return &modbusLine{rig: r, url: s.URL}, nil
		}
	}
	return nil, fmt.Errorf("rig: no station of the shop is on %s", s.URL)
}

// modbusLine answers as the stations on one line do.
type modbusLine struct {
	rig *Rig
	url string
}

func (l *modbusLine) Close() error { return nil }

// Registers answers whole values only: a question for a part of one is refused, as many transmitters do.
func (l *modbusLine) Registers(station uint8, holding bool, address, count uint16) ([]uint16, error) {
	table := shop.InputRegister
	if holding {
		table = shop.HoldingRegister
	}
	l.rig.mu.Lock()
	defer l.rig.mu.Unlock()
	v, err := l.ask(registerAt{l.url, station, table, address})
	if err != nil {
		return nil, err
	}
	if as := modbusin.Format(v.from.Format); count != as.Registers() {
		return nil, fmt.Errorf("%w: illegal data address", modbusin.ErrRefused)
	}
	if !v.faults.stuck || v.last == nil {
		v.last = modbusin.Encode(v.value(l.rig.moment()), modbusin.Format(v.from.Format), v.from.LowFirst)
	}
	return v.last, nil
}

// Bit answers one bit.
func (l *modbusLine) Bit(station uint8, coil bool, address uint16) (bool, error) {
	table := shop.DiscreteInput
	if coil {
		table = shop.Coil
	}
	l.rig.mu.Lock()
	defer l.rig.mu.Unlock()
	v, err := l.ask(registerAt{l.url, station, table, address})
	if err != nil {
		return false, err
	}
	return v.value(l.rig.moment()) != 0, nil
}

// ask finds a value; one that is not there, or does not answer, is an error as the wire gives it.
func (l *modbusLine) ask(at registerAt) (*stationValue, error) {
	v := l.rig.stations[at]
	switch {
	case v == nil:
		return nil, fmt.Errorf("%w: illegal data address", modbusin.ErrRefused)
	case v.faults.unplugged:
		return nil, fmt.Errorf("%w: station %d", modbusin.ErrSilent, at.station)
	case v.faults.badCRC:
		return nil, fmt.Errorf("%w: station %d", modbusin.ErrDamaged, at.station)
	}
	return v, nil
}

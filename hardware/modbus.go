package hardware

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"ductward/hardware/modbusin"
	"ductward/internal/clock"
	"ductward/internal/quantity"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// Lines is implemented by Buses that stand in for Modbus lines as well, as a simulated plant does.
type Lines interface {
	Line(s modbusin.Setting) (modbusin.Reader, error)
}

// line returns the line of a source, which all its stations share.
func (b *builder) line(f *shop.Source) (modbusin.Reader, error) {
	if l, ok := b.lines[f.URL]; ok {
		return l, nil
	}
	setting := modbusin.Setting{URL: f.URL, Baud: f.Baud, Parity: modbusin.Parity(f.Parity)}
	var l modbusin.Reader = modbusin.NewLine(setting)
	if own, ok := b.buses.(Lines); ok {
		var err error
		if l, err = own.Line(setting); err != nil {
			return nil, err
		}
	}
	b.lines[f.URL] = l
	b.modbus = append(b.modbus, l)
	return l, nil
}

// station is what the pollers of Modbus have in common.
type station struct {
	health
	interval time.Duration
	line     modbusin.Reader
	from     shop.Source
	clock    clock.Clock
	raw      string
}

func (p *station) Channel() string         { return p.channel }
func (p *station) Interval() time.Duration { return p.interval }

// Raw is what the registers or the bit hold.
func (p *station) Raw() string { return p.raw }

// fill makes the station of a source.
func (p *station) fill(b *builder, channel string, f *shop.Source, interval time.Duration) error {
	l, err := b.line(f)
	if err != nil {
		return fmt.Errorf("%s: %w", channel, err)
	}
	table := [...]string{"input register", "holding register", "discrete input", "coil"}[f.Table]
	where := fmt.Sprintf("%s station %d %s %d", f.URL, f.Station, table, f.Register)
	p.health.channel, p.health.where, p.health.log = channel, where, b.log
	p.interval, p.line, p.from, p.clock = interval, l, *f, b.clock
	return nil
}

// lost tells which fault an error of a line is.
func (p *station) lost(now time.Duration, err error) (float64, reading.Quality, error) {
	code := NotAnswering
	switch {
	case errors.Is(err, modbusin.ErrNoLine):
		code = NoBus
	case errors.Is(err, modbusin.ErrDamaged):
		code = BadCRC
	case errors.Is(err, modbusin.ErrRefused), errors.Is(err, modbusin.ErrNoNumber):
		code = ChipError
	}
	return p.failed(now, code, err)
}

// registers polls a number in registers.
type registers struct {
	station
	toSI func(float64) float64
	want want
}

func (b *builder) register(channel string, s *shop.Sensor) error {
	toSI, err := quantity.ParseUnit(s.Measures.Kind(), s.From.Unit)
	if err != nil {
		return fmt.Errorf("sensor %q: unit %w", channel, err)
	}
	p := &registers{toSI: toSI, want: wantSensor(s.Measures)}
	if err := p.fill(b, channel, &s.From, intervalOf(s)); err != nil {
		return err
	}
	b.add("modbus "+s.From.URL, p, &p.health)
	return nil
}

// Read asks the station once; see Poller.
func (p *registers) Read() (float64, reading.Quality, error) {
	now := p.clock.Mono()
	if p.resting(now) {
		return p.answer()
	}
	p.raw = ""
	as := modbusin.Format(p.from.Format)
	words, err := p.line.Registers(p.from.Station, p.from.Table == shop.HoldingRegister, p.from.Register, as.Registers())
	if err != nil {
		return p.lost(now, err)
	}
	number, err := modbusin.Decode(words, as, p.from.LowFirst)
	if err != nil {
		return p.lost(now, err)
	}
	p.raw = strconv.FormatFloat(number, 'g', 8, 64)
	si := p.toSI(number * p.from.Factor)
	if !(si >= p.want.Low && si <= p.want.High) || math.IsInf(si, 0) {
		return p.failed(now, Refused, fmt.Errorf("the registers hold %s, which is %g in SI units, outside %g to %g", p.raw, si, p.want.Low, p.want.High))
	}
	if p.failures > 0 {
		p.well(now)
	}
	return si, reading.Good, nil
}

// bit polls a switch on a station.
type bit struct{ station }

func (b *builder) bit(channel string, f *shop.Source) error {
	p := &bit{}
	if err := p.fill(b, channel, f, switchInterval); err != nil {
		return err
	}
	b.add("modbus "+f.URL, p, &p.health)
	return nil
}

// Read asks the station once; see Poller.
func (p *bit) Read() (float64, reading.Quality, error) {
	now := p.clock.Mono()
	if p.resting(now) {
		return p.answer()
	}
	p.raw = ""
	set, err := p.line.Bit(p.from.Station, p.from.Table == shop.Coil, p.from.Register)
	if err != nil {
		return p.lost(now, err)
	}
	if p.failures > 0 {
		p.well(now)
	}
	p.raw = strconv.FormatBool(set)
	return numeral(set), reading.Good, nil
}

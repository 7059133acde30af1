// Package trial puts the watch before plants whose truth is known and counts how often it is right: is a known leak
// found, does its interval hold it, how often is a healthy shop troubled. The plant's formulas are not the watch's
// (package plant), and its ducts are built otherwise than they are drawn.
package trial

import (
	"fmt"
	"time"

	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// Record makes the readings of one collector over working days, as an outside recorder would: for each stretch between
// two events the mean over at most Span, with its standard deviation.
type Record struct {
	Shop      *shop.Shop
	Collector *shop.Collector
	Plant     plant.Options
	Work      plant.WorkOptions
	Span      time.Duration // 30 s when zero
	Step      time.Duration // between the samples within a span; 1 s when zero

	seq uint64
}

// restWindow is how long the sensors are read after the fan has stopped: the zero.
const restWindow = 3 * time.Minute

// Run hands the readings of days from..to (exclusive) to sink in their order, and the truth at the end of each day to
// each, which may be nil.
func (r *Record) Run(days int, sink func(reading.Reading), each func(day int, p *plant.Plant)) error {
	p, err := plant.New(r.Collector, r.Shop.Site, r.Plant)
	if err != nil {
		return err
	}
	w, err := plant.NewWorkdays(r.Collector, r.Work)
	if err != nil {
		return err
	}
	if r.Span == 0 {
		r.Span = 30 * time.Second
	}
	if r.Step == 0 {
		r.Step = time.Second
	}
	m := &maker{r: r, p: p, sink: sink, fans: map[bool]float64{true: 1}}
	m.positions(0)
	for d := range days {
		if err := m.day(d, w.Day(d)); err != nil {
			return fmt.Errorf("day %d: %w", d, err)
		}
		if each != nil {
			each(d, p)
		}
	}
	return nil
}

// maker makes readings.
type maker struct {
	r    *Record
	p    *plant.Plant
	sink func(reading.Reading)
	fans map[bool]float64
	mono time.Duration
	rest time.Duration // of the zero window still to be read
}

// day lives through one day.
func (m *maker) day(n int, events []plant.Event) error {
	base := time.Duration(n) * 24 * time.Hour
	for _, e := range events {
		m.live(base + e.At)
		if err := m.p.Apply(e); err != nil {
			return err
		}
		if err := m.p.Err(); err != nil {
			return err
		}
		switch e.Kind {
		case plant.FanEvent:
			m.put(m.r.Collector.Name+"/fan", m.fans[e.On])
			m.rest = restWindow
		case plant.GateEvent:
			m.put("gate/"+e.Name, m.fans[e.On])
		case plant.PortEvent:
			m.put("selector/"+e.Name, e.Value)
		}
	}
	m.live(base + 24*time.Hour)
	return nil
}

// live reads the sensors up to a moment.
func (m *maker) live(until time.Duration) {
	for m.mono < until {
		left := until - m.mono
		if !m.p.FanOn() && m.rest <= 0 {
			m.mono = until
			return
		}
		span := min(left, m.r.Span)
		if !m.p.FanOn() {
			span = min(span, m.rest)
			m.rest -= span
		}
		m.mono += span
		if span < m.r.Step {
			continue
		}
		for _, ch := range m.p.Channels() {
			mean, sd := m.p.Window(ch, span.Seconds(), m.r.Step.Seconds())
			rd := m.reading(ch, mean)
			rd.Span, rd.SD, rd.N = span, sd, max(1, int(span/m.r.Step))
			m.sink(rd)
		}
	}
}

// positions tells where every switch stands at the start.
func (m *maker) positions(at time.Duration) {
	m.mono = at
	m.put(m.r.Collector.Name+"/fan", m.fans[m.p.FanOn()])
	for _, g := range m.r.Collector.Gates {
		m.put("gate/"+g.Name, m.fans[m.p.GateOpen(g.Name)])
	}
	for _, s := range m.r.Collector.Selectors {
		m.put("selector/"+s.Name, float64(m.p.Port(s.Name)))
	}
}

func (m *maker) put(channel string, v float64) { m.sink(m.reading(channel, v)) }

// reading stamps a value.
func (m *maker) reading(channel string, v float64) reading.Reading {
	m.r.seq++
	return reading.Reading{Channel: channel, Value: v, Time: m.r.Work.Start.Add(m.mono), Quality: reading.Simulated,
		Boot: 1, Mono: m.mono, Seq: m.r.seq}
}

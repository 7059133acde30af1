package hardware

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"ductward/hardware/mqttin"
	"ductward/internal/clock"
	"ductward/internal/credential"
	"ductward/internal/quantity"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// Payloads is implemented by Buses that stand in for a broker as well, as a simulated plant does. Payload returns what
// is published on a topic at this moment, or false when nothing is. The channels with a topic are then polled, through
// the same decoder, and no connection is made.
type Payloads interface {
	Payload(topic string) ([]byte, bool)
}

type want = mqttin.Want

func wantSwitch() want                { return want{Switch: true} }
func wantPort(ports []string) want    { return want{Ports: append([]string{}, ports...)} }
func wantSensor(q shop.Quantity) want { return limits[q] }

// limits are what each quantity can be at all, in SI: wider than any workshop, and narrow enough to tell a value in the
// wrong unit or from the wrong topic. Common practice, no source.
var limits = map[shop.Quantity]want{
	shop.FilterDrop:         {Kind: quantity.Pressure, Low: -50e3, High: 50e3},
	shop.StaticPressure:     {Kind: quantity.Pressure, Low: -50e3, High: 50e3},
	shop.VelocityPressure:   {Kind: quantity.Pressure, Low: -50e3, High: 50e3},
	shop.SeparatorDrop:      {Kind: quantity.Pressure, Low: -50e3, High: 50e3},
	shop.AirTemperature:     {Kind: quantity.Temperature, Low: 223.15, High: 373.15},
	shop.BarometricPressure: {Kind: quantity.Pressure, Low: 30e3, High: 120e3},
	shop.RelativeHumidity:   {Kind: quantity.Humidity, Low: 0, High: 1},
	shop.FanPower:           {Kind: quantity.Power, Low: 0, High: 1e6},
	shop.FanSpeed:           {Kind: quantity.Frequency, Low: 0, High: 1000},
	shop.BinWeight:          {Kind: quantity.Mass, Low: -1000, High: 20e3}, // a scale whose zero is off, and a container
}

// topic notes a channel that is published. The interval is for where it is polled all the same.
func (b *builder) topic(channel string, f *shop.Source, w want, interval time.Duration) error {
	in := mqttin.Input{Channel: channel, Topic: f.Topic, Field: f.Field, Unit: f.Unit, Stale: f.Stale, Want: w}
	if in.Stale <= 0 {
		in.Stale = defaultStale
	}
	if b.fed != nil {
		d, err := mqttin.NewDecoder([]mqttin.Input{in})
		if err != nil {
			return err
		}
		p := &fedTopic{health: b.health(channel, topicPlace(f.Topic)), interval: interval, topic: f.Topic, decoder: d, from: b.fed, clock: b.clock}
		b.add("mqtt", p, &p.health)
		return nil
	}
	b.inputs = append(b.inputs, in)
	return nil
}

func topicPlace(topic string) string { return fmt.Sprintf("mqtt topic %q", topic) }

// listen makes the inbox, and the subscriber where there is something to listen to.
func (b *builder) listen(s *shop.Shop) error {
	d, err := mqttin.NewDecoder(b.inputs)
	if err != nil {
		return err
	}
	b.inbox = mqttin.NewInbox(d, b.clock.Mono())
	if len(b.inputs) == 0 {
		return nil
	}
	if s.Outbound.MQTT == nil {
		return errors.New("sources name MQTT topics, and the shop file names no broker")
	}
	broker, err := brokerOf(s.Outbound.MQTT)
	if err != nil {
		return err
	}
	b.sub = mqttin.NewSubscriber(broker, b.inbox, b.clock, b.log)
	return nil
}

// brokerOf reads the secrets that the shop file names. The name of the connection must be none that publishes too, or
// the two would throw each other out for ever.
func brokerOf(m *shop.MQTT) (mqttin.Broker, error) {
	b := mqttin.Broker{URL: m.Broker, Username: m.Username}
	var err error
	if b.Password, b.TLS, err = credential.Broker(m); err != nil {
		return b, err
	}
	if m.ClientID != "" {
		b.ClientID = m.ClientID + "-in"
		return b, nil
	}
	b.ClientID, err = credential.ClientName("ductward-in-")
	return b, err
}

// troubleCode tells which fault a published channel has.
func troubleCode(err error) Code {
	switch {
	case errors.Is(err, mqttin.ErrOffline):
		return NoBroker
	case errors.Is(err, mqttin.ErrSilent), errors.Is(err, mqttin.ErrOld), errors.Is(err, mqttin.ErrAge):
		return Stale
	}
	return Refused
}

// fedTopic polls a topic of buses that stand in for a broker.
type fedTopic struct {
	health
	interval time.Duration
	topic    string
	decoder  *mqttin.Decoder
	from     Payloads
	clock    clock.Clock
	last     []byte // the payload
}

// longestRaw is how much of a payload is shown, in bytes.
const longestRaw = 24

// Raw is the payload, or its beginning. What a terminal might take for an order is left out.
func (p *fedTopic) Raw() string { return printable(p.last) }

func printable(payload []byte) string {
	cut := len(payload) > longestRaw
	text := strings.Map(func(r rune) rune {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			return '·'
		}
		return r
	}, string(payload[:min(len(payload), longestRaw)]))
	if cut {
		text += "…"
	}
	return text
}

func (p *fedTopic) Channel() string         { return p.channel }
func (p *fedTopic) Interval() time.Duration { return p.interval }

// Read decodes what is published now; see Poller.
func (p *fedTopic) Read() (float64, reading.Quality, error) {
	now := p.clock.Mono()
	payload, ok := p.from.Payload(p.topic)
	p.last = payload
	if !ok {
		return p.failed(now, Stale, mqttin.ErrSilent)
	}
	at := mqttin.Stamp{Mono: now}
	if p.clock.Trusted() {
		at.Time = p.clock.Now()
	}
	rs, err := p.decoder.Decode(p.topic, payload, at)
	if err != nil {
		return p.failed(now, troubleCode(err), err)
	}
	if p.failures > 0 {
		p.well(now)
	}
	return rs[0].Value, rs[0].Quality, nil
}

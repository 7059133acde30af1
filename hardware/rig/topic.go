package rig

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"ductward/internal/quantity"
	"ductward/internal/shop"
)

// topic is what another board publishes: a plain number, or a JSON object of one number or more.
type topic struct {
	fields []*field
}

// field is one channel of a topic.
type field struct {
	name   string // "" for a plain number
	senml  string // unit of a SenML record, which says its unit itself; "" for the others
	value  func() (float64, error)
	faults faults
	last   float64
}

// topic adds a channel to its topic.
func (r *Rig) topic(channel string, f *shop.Source, senml string, value func() (float64, error)) error {
	t := r.topics[f.Topic]
	if t == nil {
		t = &topic{}
		r.topics[f.Topic] = t
	}
	for _, other := range t.fields {
		if other.name == "" || f.Field == "" {
			return fmt.Errorf("rig: channel %q: topic %q holds a plain number and cannot hold two channels", channel, f.Topic)
		}
	}
	if _, err := value(); err != nil {
		return fmt.Errorf("rig: channel %q: %w", channel, err)
	}
	fd := &field{name: f.Field, senml: senml, value: value}
	t.fields = append(t.fields, fd)
	r.channels[channel] = fd
	return nil
}

// Topics lists the topics that something is published on, sorted.
func (r *Rig) Topics() []string {
	var out []string
	for name := range r.topics {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

// Payload returns what is published on a topic at this moment; false when its board is silent or there is no such
// topic.
func (r *Rig) Payload(name string) ([]byte, bool) {
	t := r.topics[name]
	if t == nil {
		return nil, false
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.moment()
	if f := t.fields[0]; f.name == "" {
		return f.alone()
	}
	object := map[string]json.Number{}
	for _, f := range t.fields {
		if n, ok := f.number(); ok {
			object[f.name] = json.Number(n)
		}
	}
	if len(object) == 0 {
		return nil, false
	}
	payload, err := json.Marshal(object)
	return payload, err == nil
}

// number returns the field's number as it is written; false when its board is silent.
func (f *field) number() ([]byte, bool) {
	if f.faults.unplugged {
		return nil, false
	}
	v, err := f.now()
	if err != nil || math.IsInf(v, 0) {
		return nil, false
	}
	return strconv.AppendFloat(nil, v, 'g', 8, 64), true
}

// alone returns the payload of a topic that holds one number.
func (f *field) alone() ([]byte, bool) {
	n, ok := f.number()
	if !ok || f.senml == "" {
		return n, ok
	}
	return fmt.Appendf(nil, `[{"u":%q,"v":%s}]`, f.senml, n), true
}

// Publish hands out what every topic that is not silent says at this moment.
func (r *Rig) Publish(to func(topic string, payload []byte)) {
	for _, name := range r.Topics() {
		if payload, ok := r.Payload(name); ok {
			to(name, payload)
		}
	}
}

// now returns the field's number.
func (f *field) now() (float64, error) {
	if f.faults.stuck {
		return f.last, nil
	}
	v, err := f.value()
	f.last = v
	return v, err
}

func (f *field) fail(x fault) error {
	if x != unplug && x != stick {
		return errors.New("what is published can only fall silent or stick")
	}
	return f.faults.set(x)
}

func (f *field) mend() { f.faults = faults{} }

// kindOf returns the kind of quantity that a sensor measures.
func kindOf(q shop.Quantity) (quantity.Kind, error) {
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop, shop.BarometricPressure:
		return quantity.Pressure, nil
	case shop.AirTemperature:
		return quantity.Temperature, nil
	case shop.RelativeHumidity:
		return quantity.Humidity, nil
	case shop.FanPower:
		return quantity.Power, nil
	case shop.FanSpeed:
		return quantity.Frequency, nil
	case shop.BinWeight:
		return quantity.Mass, nil
	}
	return 0, fmt.Errorf("a quantity of kind %d cannot be published", q)
}

// published returns what a topic says of a value in SI: in the unit that the shop file names, or, where it names none,
// as SenML with the SI unit of RFC 8428.
func published(kind quantity.Kind, f *shop.Source) (senml string, convert func(float64) (float64, error)) {
	if f.Unit != "" {
		return "", func(v float64) (float64, error) { return quantity.FromSI(kind, f.Unit, v) }
	}
	units := map[quantity.Kind]string{quantity.Pressure: "Pa", quantity.Temperature: "K", quantity.Humidity: "/",
		quantity.Power: "W", quantity.Frequency: "Hz", quantity.Mass: "kg"}
	return units[kind], func(v float64) (float64, error) { return v, nil }
}

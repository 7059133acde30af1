package shop

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"ductward/internal/quantity"
)

// Defaults of sources.
const (
	defaultDebounce = 50 * time.Millisecond
	defaultStale    = 30 * time.Second
)

// position reads where the position of a gate or selector comes from; nil if it is not given.
func (o *object) position(key string, selector bool) *Source {
	v := o.get(key)
	if v == nil {
		return nil
	}
	if v.shape == scalar {
		return o.standing(v, key, selector)
	}
	s := o.source(v, key)
	if s == nil {
		return nil
	}
	switch {
	case s.Kind == SourceI2C:
		o.wrong(v, key+" cannot come from a pressure sensor", `write {gpio: PIN}, {mqtt: TOPIC}, "by hand", "always open" or "always shut"`)
		return nil
	case s.Kind == SourceModbus && selector:
		o.wrong(v, key+" cannot come from one bit: it would not tell the ports apart", `write {mqtt: TOPIC} for the port's number, or "by hand"`)
		return nil
	case s.Kind == SourceModbus:
		o.toldBy(v, key, s)
	case s.Kind == SourceGPIO && selector:
		o.wrong(v, key+" cannot come from one pin: it would not tell the ports apart", `write {mqtt: TOPIC} for the port's number, or "by hand"`)
		return nil
	}
	return s
}

// standing reads a position that is a word.
func (o *object) standing(v *value, key string, selector bool) *Source {
	words := []string{"by hand", "always open", "always shut"}
	if selector {
		words = words[:1]
	}
	for i, w := range words {
		if v.text == w {
			if i == 0 {
				return &Source{Kind: SourceByHand, Line: v.line}
			}
			return &Source{Kind: SourceFixed, Fixed: i == 1, Line: v.line}
		}
	}
	o.wrong(v, fmt.Sprintf("%s %s is not known", key, shown(v.text)), "write {gpio: PIN}, {mqtt: TOPIC} or one of "+quoted(words))
	return nil
}

// fanSwitch reads what tells that the fan runs.
func (p *parts) fanSwitch() *Source {
	v := p.get("fan_running")
	if v == nil {
		return nil
	}
	const want = "write {gpio: PIN} or {mqtt: TOPIC}, or leave it out: then the trunk's suction tells"
	if v.shape == scalar {
		p.wrong(v, fmt.Sprintf("fan_running %s is not known", shown(v.text)), want)
		return nil
	}
	s := p.source(v, "fan_running")
	if s != nil && s.Kind == SourceI2C {
		if c := ChipOf(s.Chip); c != nil && c.Kind == Converter {
			p.clamp(v, s)
			return s
		}
	}
	if s != nil && s.ShutPin != "" {
		p.wrong(v, "fan_running has a contact at a shut end", "leave \"shut\" out: it is for gates")
	}
	if s != nil && s.Kind == SourceModbus {
		p.toldBy(v, "fan_running", s)
		return s
	}
	if s != nil && s.Kind != SourceGPIO && s.Kind != SourceMQTT {
		p.wrong(v, "fan_running cannot come from there", want)
		return nil
	}
	return s
}

// source reads {i2c: …}, {gpio: …} or {mqtt: …}. nil: it could not be told what it is.
func (o *object) source(v *value, key string) *Source {
	s := o.reader.object(v, o.where+" "+key, "")
	out := &Source{Line: v.line}
	switch {
	case s.void:
		return nil
	case s.has("i2c"):
		out.Kind = SourceI2C
		s.i2c(out)
	case s.has("gpio"):
		out.Kind = SourceGPIO
		s.gpio(out)
	case s.has("mqtt"):
		out.Kind = SourceMQTT
		s.mqtt(out)
	case s.has("modbus"):
		out.Kind = SourceModbus
		s.modbus(out)
	default:
		s.close()
		s.wrong(v, "it does not say where the value comes from", "write one of i2c, gpio, mqtt, modbus")
		return nil
	}
	s.close()
	return out
}

var pin = regexp.MustCompile(`^[A-Z][A-Z0-9]*(_[A-Z0-9]+)*[0-9]+$`)

// gpio reads a switch on a pin.
func (o *object) gpio(s *Source) {
	s.Pin, s.ShutPin = o.pin("gpio"), o.pin("shut")
	s.ActiveLow = o.oneOf("active", []string{"high", "low"}) == 1
	s.Debounce = o.duration("debounce", debounce, defaultDebounce)
}

// pin reads a pin's name.
func (o *object) pin(key string) string {
	w := o.word(key)
	if w == "" || pin.MatchString(w) && len(w) <= 20 {
		return w
	}
	want := `write the pin as the board names it, such as "GPIO17"`
	if n, err := strconv.Atoi(w); err == nil && n >= 0 && n < 1000 {
		want = fmt.Sprintf("did you mean %q?", fmt.Sprintf("GPIO%d", n))
	} else if up := strings.ToUpper(w); pin.MatchString(up) && len(up) <= 20 {
		want = fmt.Sprintf("did you mean %q?", up)
	}
	o.wrong(o.get(key), fmt.Sprintf("%s %s is not a pin", key, shown(w)), want)
	return w
}

// mqtt reads a value that arrives under a topic.
func (o *object) mqtt(s *Source) {
	s.Topic = o.word("mqtt")
	if why := badTopic(s.Topic); why != "" && s.Topic != "" {
		o.wrong(o.get("mqtt"), fmt.Sprintf("topic %s %s", shown(s.Topic), why), `write the one topic that the value comes under, such as "shop/air/temperature"`)
	}
	s.Field = o.word("field")
	s.Unit = o.word("unit")
	s.Stale = o.duration("stale", staleness, defaultStale)
}

// badTopic tells what is wrong with a topic to subscribe to (MQTT 3.1.1, section 4.7), "" if nothing is.
func badTopic(topic string) string {
	switch {
	case strings.ContainsAny(topic, "+#"):
		return "has a wildcard"
	case strings.HasPrefix(topic, "/") || strings.HasSuffix(topic, "/") || strings.Contains(topic, "//"):
		return "has an empty level"
	case strings.HasPrefix(topic, "$"):
		return "belongs to the broker"
	}
	return ""
}

// unitFits reports a unit that is missing or of another kind than what is measured.
func (o *object) unitFits(s *Source, kind quantity.Kind) {
	from := o.get("from")
	number := s.Kind == SourceMQTT || s.Kind == SourceModbus && !s.Table.IsBit()
	if !number || from == nil {
		return
	}
	t := o.reader.object(from, o.where+" from", "")
	if s.Unit == "" {
		t.require("unit", fmt.Sprintf("the unit of the number that arrives, one of %s", strings.Join(quantity.Units(kind), ", ")))
		return
	}
	if _, err := quantity.ParseUnit(kind, s.Unit); err != nil {
		t.wrong(t.get("unit"), "unit "+err.Error(), "")
	}
}

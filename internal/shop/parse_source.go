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
	case s.Kind == SourceGPIO && selector && len(s.Pins) == 0:
		o.wrong(v, key+" cannot come from one pin: it would not tell the ports apart", `write {gpio: [PIN, PIN]} with the pin of each port, {mqtt: TOPIC} for the port's number, or "by hand"`)
		return nil
	case len(s.Pins) > 0 && !selector:
		o.wrong(v, key+" has several pins", `write one pin, and "shut: PIN" for a second contact, at the shut end`)
		return nil
	case len(s.Pins) > 0 && s.ShutPin != "":
		o.wrong(v, key+" has a contact at a shut end", "leave \"shut\" out: it is for gates")
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
	return p.closing(v, "fan_running", "the fan runs", "write {gpio: PIN} or {mqtt: TOPIC}, or leave it out: then the trunk's suction tells")
}

// closing reads a source of one switch, which is closed while something is so.
func (o *object) closing(v *value, key, so, want string) *Source {
	if v.shape == scalar {
		o.wrong(v, fmt.Sprintf("%s %s is not known", key, shown(v.text)), want)
		return nil
	}
	s := o.source(v, key)
	switch {
	case s == nil:
		return nil
	case s.ShutPin != "":
		o.wrong(v, key+" has a contact at a shut end", "leave \"shut\" out: it is for gates")
	case len(s.Pins) > 0:
		o.wrong(v, key+" has several pins", "write one pin: several are for selectors")
	}
	switch s.Kind {
	case SourceI2C:
		if c := ChipOf(s.Chip); c != nil && c.Kind == Converter {
			o.clamp(v, s, key, so)
			return s
		}
		o.wrong(v, key+" cannot come from there", want)
		return nil
	case SourceModbus:
		o.toldBy(v, key, s)
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
	if v := o.get("gpio"); v != nil && v.shape == list {
		s.Pins = o.pins()
	} else {
		s.Pin = o.pin("gpio")
	}
	s.ShutPin = o.pin("shut")
	s.ActiveLow = o.oneOf("active", []string{"high", "low"}) == 1
	s.Debounce = o.duration("debounce", debounce, defaultDebounce)
}

// pins reads the pins of a selector's position switches.
func (o *object) pins() (names []string) {
	for _, v := range o.list("gpio") {
		if v.shape != scalar {
			o.wrong(v, fmt.Sprintf("gpio holds %s", v), "write the pin of each port, in the order of the ports")
			continue
		}
		o.goodPin(v, "gpio", v.text)
		names = append(names, v.text)
	}
	return names
}

// pin reads a pin's name.
func (o *object) pin(key string) string {
	w := o.word(key)
	if w != "" {
		o.goodPin(o.get(key), key, w)
	}
	return w
}

// goodPin reports what is no pin.
func (o *object) goodPin(v *value, key, w string) {
	if pin.MatchString(w) && len(w) <= 20 {
		return
	}
	want := `write the pin as the board names it, such as "GPIO17"`
	if n, err := strconv.Atoi(w); err == nil && n >= 0 && n < 1000 {
		want = fmt.Sprintf("did you mean %q?", fmt.Sprintf("GPIO%d", n))
	} else if up := strings.ToUpper(w); pin.MatchString(up) && len(up) <= 20 {
		want = fmt.Sprintf("did you mean %q?", up)
	}
	o.wrong(v, fmt.Sprintf("%s %s is not a pin", key, shown(w)), want)
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

package shop

import (
	"fmt"
	"math"
	"strings"
	"time"

	"ductward/internal/quantity"
)

// measured lists what a sensor can measure, in the order of the Quantity constants.
var measured = []struct {
	word string
	kind quantity.Kind
}{
	FilterDrop:         {"filter drop", quantity.Pressure},
	StaticPressure:     {"static pressure", quantity.Pressure},
	VelocityPressure:   {"velocity pressure", quantity.Pressure},
	AirTemperature:     {"air temperature", quantity.Temperature},
	BarometricPressure: {"barometric pressure", quantity.Pressure},
	RelativeHumidity:   {"relative humidity", quantity.Humidity},
	FanPower:           {"fan power", quantity.Power},
	FanSpeed:           {"fan speed", quantity.Frequency},
	SeparatorDrop:      {"separator drop", quantity.Pressure},
	BinWeight:          {"bin weight", quantity.Mass},
}

// String names what is measured in the words of the shop file.
func (q Quantity) String() string {
	if q < 0 || int(q) >= len(measured) {
		return fmt.Sprintf("quantity %d", int(q))
	}
	return measured[q].word
}

// Kind tells which kind of quantity is measured, for units.
func (q Quantity) Kind() quantity.Kind {
	if q < 0 || int(q) >= len(measured) {
		return quantity.Ratio
	}
	return measured[q].kind
}

// Unit is the unit of the SI number that a channel of this quantity carries.
func (q Quantity) Unit() string {
	switch q.Kind() {
	case quantity.Pressure:
		return "Pa"
	case quantity.Temperature:
		return "K"
	case quantity.Power:
		return "W"
	case quantity.Frequency:
		return "Hz"
	case quantity.Mass:
		return "kg"
	}
	return "1"
}

func measuredWords() []string {
	words := make([]string, len(measured))
	for i, m := range measured {
		words[i] = m.word
	}
	return words
}

// readSensors reads the sensors.
func (p *parts) readSensors() {
	for _, v := range p.entries("sensors") {
		if s := p.sensor(v); s != nil {
			p.Sensors = append(p.Sensors, s)
		}
	}
}

func (p *parts) sensor(v *value) *Sensor {
	o := p.reader.object(v, "sensor", "sensor")
	s := &Sensor{Name: o.name("sensor", "filter drop"), Was: o.was(), Line: v.line}
	kind := o.oneOf("measures", measuredWords())
	o.require("measures", "one of "+quoted(measuredWords()))
	s.Measures = Quantity(max(0, kind))
	s.Run = o.word("at")
	if o.oneOf("tap", []string{"end", "start"}) == 1 {
		s.TapAt = AtStart
	}
	s.Diameter = o.quantity("diameter", ductDiameter, math.NaN())
	s.Interval = o.duration("interval", sampling, time.Second)
	o.full(s, kind)
	if from := o.origin(); from != nil {
		s.From = *from
		if kind >= 0 {
			o.suits(s)
		}
	}
	o.require("from", `{i2c: 1, chip: sdp8xx, address: 0x25, span: 500 Pa}, {mqtt: TOPIC, unit: Pa} or "by hand"`)
	if kind >= 0 {
		p.place(o, s)
	}
	o.close()
	if s.Name == "" {
		return nil
	}
	p.sensorAt[s] = o
	p.sensors.add(o, o.get("sensor"), "sensor", s.Name, s.Was)
	return s
}

// full reads at which weight a bin is full.
func (o *object) full(s *Sensor, kind int) {
	s.Full = o.quantity("full", binWeight, math.NaN())
	switch v := o.get("full"); {
	case kind == int(BinWeight):
		o.require("full", "the weight of what the bin holds when it is full, such as \"full: 60 kg\"")
	case v != nil && kind >= 0:
		o.wrong(v, fmt.Sprintf("full is given, but %s fills no bin", Quantity(kind)), "leave it out")
	}
}

// origin reads where a sensor's value comes from.
func (o *object) origin() *Source {
	v := o.get("from")
	switch {
	case v == nil:
		return nil
	case v.shape == scalar && v.text == "by hand":
		return &Source{Kind: SourceByHand, Line: v.line}
	case v.shape == scalar:
		o.wrong(v, fmt.Sprintf("from %s is not known", shown(v.text)), `write {i2c: …}, {mqtt: …} or "by hand"`)
		return nil
	}
	return o.source(v, "from")
}

// suits reports a source that cannot give what is measured.
func (o *object) suits(s *Sensor) {
	pressure := s.Measures.Kind() == quantity.Pressure && s.Measures != BarometricPressure
	room := s.Measures == AirTemperature || s.Measures == BarometricPressure || s.Measures == RelativeHumidity
	kind := PressureChip
	if c := ChipOf(s.From.Chip); c != nil {
		kind = c.Kind
	}
	switch {
	case s.From.Kind == SourceGPIO:
		o.wrong(o.get("from"), fmt.Sprintf("a pin cannot measure %s", s.Measures), "write {i2c: …} or {mqtt: …}")
	case s.From.Kind == SourceI2C && kind == PressureChip && !pressure:
		o.wrong(o.get("from"), fmt.Sprintf("a differential-pressure part cannot measure %s", s.Measures), "write {mqtt: …}, or another chip")
	case s.From.Kind == SourceI2C && kind == RoomChip && !room:
		o.wrong(o.get("from"), fmt.Sprintf("a %s cannot measure %s", s.From.Chip, s.Measures), "it measures air temperature, barometric pressure and relative humidity")
	case s.From.Kind == SourceI2C && s.From.OneSided && !s.From.Swapped && s.Measures == StaticPressure:
		o.wrong(o.get("from"), "a one-sided part reads no suction unless its tubes are swapped", "put the duct on the low port and write \"swapped: yes\"")
	}
	o.measuredBy(&s.From)
	o.unitFits(&s.From, s.Measures.Kind())
	o.ends(&s.From, s.Measures.Kind())
}

// place checks where the tap sits. Names of runs are checked when all are known.
func (p *parts) place(o *object, s *Sensor) {
	tapped := s.Measures == StaticPressure || s.Measures == VelocityPressure
	switch {
	case tapped && s.Run == "":
		o.require("at", `where its tap sits: "at: RUN", "at: inlet" for the collector's inlet or "at: fan" for the fan's`)
	case !tapped && s.Run != "":
		o.wrong(o.get("at"), fmt.Sprintf("at is given, but %s has no place in a run", s.Measures), "leave it out")
	}
	if s.Measures == VelocityPressure && p.drawing == nil && math.IsNaN(s.Diameter) && !o.has("diameter") {
		o.require("diameter", "the duct's diameter at the tap, since there is no drawing to take it from")
	}
}

// tap checks the run that a sensor names.
func (p *parts) tap(s *Sensor) {
	if s.Run == "" || s.Run == "inlet" || s.Run == "fan" {
		return
	}
	if p.Network != nil && p.Collector.Run(s.Run) != nil {
		return
	}
	text := fmt.Sprintf("sensor %q: no run is named %s", s.Name, shown(s.Run))
	known := []string{"inlet", "fan"}
	if p.Network != nil {
		for _, r := range p.Network.Runs {
			known = append(known, r.Name)
		}
	}
	line, column := s.Line, 1
	if o := p.sensorAt[s]; o != nil {
		v := o.get("at")
		line, column = v.line, v.column
	}
	p.problem(line, column, text, choose(s.Run, known))
}

// sameBus tells how a bus is named, whichever way it is written.
func sameBus(name string) string {
	return strings.TrimPrefix(strings.TrimPrefix(name, "/dev/i2c-"), "I2C")
}

package shop

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// ChipKind says what a chip is for.
type ChipKind int

// What chips are for.
const (
	PressureChip ChipKind = iota // a difference of pressure
	RoomChip                     // temperature, pressure and humidity of the room
	Converter                    // the signal of a transmitter
)

// Chip is a family of parts that can be read over I²C.
type Chip struct {
	Name      string
	Kind      ChipKind
	Addresses []uint16 // that the family is sold with
	Spans     []float64
	About     string
	ByMass    bool    // it feels the mass of the air that moves in it: what it reads goes with the ambient pressure
	Zero      float64 // share of the span by which the zero of a sound part may be off, by its datasheet
}

// Chips lists the parts that a sensor's source may name.
var Chips = []Chip{
	{Name: "sdp8xx", Addresses: []uint16{0x25, 0x26}, Spans: []float64{125, 500}, About: "Sensirion SDP8xx digital: thermal, two-sided", ByMass: true, Zero: 0.0002},
	{Name: "sdp3x", Addresses: []uint16{0x21, 0x22, 0x23}, Spans: []float64{125, 500}, About: "Sensirion SDP31 and SDP32: thermal, two-sided", ByMass: true, Zero: 0.0002},
	{Name: "adp810", Addresses: []uint16{0x25}, Spans: []float64{500}, About: "Aosong ADP810: thermal, two-sided", Zero: 0.001},
	{Name: "abp2", Addresses: []uint16{0x08, 0x18, 0x28, 0x38, 0x48, 0x58, 0x68, 0x78}, About: "Honeywell ABP2 digital: membrane; spans by order code", Zero: 0.015},
	{Name: "hsc", Addresses: []uint16{0x28, 0x38, 0x48, 0x58, 0x68, 0x78}, About: "Honeywell HSC and SSC digital: membrane; spans by order code", Zero: 0.02},
	{Name: "dlh", Addresses: []uint16{0x29}, About: "All Sensors DLH and DLHR: membrane; spans by order code", Zero: 0.005},
	{Name: "bme280", Kind: RoomChip, Addresses: []uint16{0x76, 0x77}, About: "Bosch BME280 and BMP280: the room's air"},
	{Name: "ads1115", Kind: Converter, Addresses: []uint16{0x48, 0x49, 0x4a, 0x4b}, About: "Texas Instruments ADS1115: converter of four inputs", Zero: 0.005},
}

// ChipOf finds a chip by its name, nil if there is none.
func ChipOf(name string) *Chip {
	for i := range Chips {
		if Chips[i].Name == name {
			return &Chips[i]
		}
	}
	return nil
}

func chipNames() []string {
	names := make([]string, len(Chips))
	for i, c := range Chips {
		names[i] = c.Name
	}
	return names
}

var bus = regexp.MustCompile(`^([0-9]{1,3}|I2C[0-9]{1,3}|/dev/i2c-[0-9]{1,3})$`)

// i2c reads a chip on a bus.
func (o *object) i2c(s *Source) {
	if s.Bus = o.word("i2c"); s.Bus != "" && !bus.MatchString(s.Bus) {
		o.wrong(o.get("i2c"), fmt.Sprintf("i2c %s is not a bus", shown(s.Bus)), `write its number, such as "i2c: 1", or "/dev/i2c-1"`)
	}
	o.behind(s)
	i := o.oneOf("chip", chipNames())
	o.require("chip", "one of "+quoted(chipNames()))
	s.Address = o.address()
	o.require("address", "the chip's address on the bus, such as \"address: 0x25\"")
	if i < 0 {
		o.pressure(s)
		return
	}
	s.Chip = Chips[i].Name
	switch Chips[i].Kind {
	case PressureChip:
		o.pressure(s)
	case Converter:
		o.transmitter(s)
	}
	o.fits(Chips[i], s)
}

// pressure reads what a chip that measures a difference of pressure needs.
func (o *object) pressure(s *Source) {
	s.Span = o.quantity("span", sensorSpan, math.NaN())
	o.require("span", "the full scale of the part, such as \"span: 500 Pa\"")
	s.OneSided, s.Swapped = o.flag("one_sided"), o.flag("swapped")
}

// behind reads the multiplexer that a chip is behind. 0x70–0x77 are all that such parts have (NXP PCA9548A).
func (o *object) behind(s *Source) {
	w := o.word("mux")
	s.Port = o.count("port", 0, 7, 0)
	switch {
	case w == "" && o.has("port"):
		o.wrong(o.get("port"), "port is given without the multiplexer that has it", "write its address, such as \"mux: 0x70\"")
		return
	case w == "":
		return
	}
	o.require("port", "the port of the multiplexer, such as \"port: 0\"")
	n, err := strconv.ParseUint(w, 0, 16)
	if err != nil || n < 0x70 || n > 0x77 {
		o.wrong(o.get("mux"), fmt.Sprintf("mux %s is not the address of a multiplexer", shown(w)), "write the address from 0x70 to 0x77, such as 0x70")
		return
	}
	s.Mux = uint16(n)
}

// address reads a 7-bit address. 0x00–0x07 and 0x7C–0x7F belong to the bus (NXP UM10204, table 4: reserved addresses).
func (o *object) address() uint16 {
	w := o.word("address")
	if w == "" {
		return 0
	}
	n, err := strconv.ParseUint(w, 0, 16)
	if err != nil || n < 0x08 || n > 0x7b || strings.Contains(w, "_") {
		o.wrong(o.get("address"), fmt.Sprintf("address %s is not an address on the bus", shown(w)), "write the 7-bit address from 0x08 to 0x7b, such as 0x25")
		return 0
	}
	return uint16(n)
}

// fits reports an address or span with which the part is not sold.
func (o *object) fits(c Chip, s *Source) {
	known := s.Address == 0
	var addresses []string
	for _, a := range c.Addresses {
		known = known || a == s.Address
		addresses = append(addresses, fmt.Sprintf("0x%02x", a))
	}
	if !known {
		o.wrong(o.get("address"), fmt.Sprintf("address 0x%02x is none of the %s", s.Address, c.Name), "it is one of "+strings.Join(addresses, ", "))
	}
	if len(c.Spans) == 0 || math.IsNaN(s.Span) || c.Kind != PressureChip {
		return
	}
	known = false
	var spans []string
	for _, x := range c.Spans {
		known = known || math.Abs(x-s.Span) < 0.5
		spans = append(spans, pressureText(x))
	}
	if !known {
		o.wrong(o.get("span"), fmt.Sprintf("span %s is none of the %s", pressureText(s.Span), c.Name), "it is one of "+strings.Join(spans, ", "))
	}
}

package scan

import (
	"fmt"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/mux"
	"ductward/internal/shop"
)

// Found is a part that answers.
type Found struct {
	Bus     string
	Mux     uint16 // of the multiplexer that it is behind; 0: none
	Port    int
	Address uint16
	Chip    string  // as the shop file names it; "" for one that is not known
	Span    float64 // Pa, where the part tells it; 0 where its order code does
	About   string
}

// Line is what the shop file would say of it, and what is left to fill in; "" for a part that is not known.
func (f Found) Line() (line, missing string) {
	switch f.Chip {
	case "":
		return "", ""
	case "bme280":
		return fmt.Sprintf("from: {i2c: %s, %schip: bme280, address: 0x%02x}", f.Bus, f.behind(), f.Address),
			"one sensor each for air temperature, barometric pressure and relative humidity (a BMP280 has none)"
	case "ads1115":
		return fmt.Sprintf("from: {i2c: %s, %schip: ads1115, address: 0x%02x, input: 0, signal: 4-20 mA, burden: 150 ohm, low: 0 Pa, high: 2.5 kPa}",
			f.Bus, f.behind(), f.Address), "write what is wired to which input, and how the transmitter is set"
	}
	head := fmt.Sprintf("from: {i2c: %s, %schip: %s, address: 0x%02x, span: ", f.Bus, f.behind(), f.Chip, f.Address)
	if f.Span > 0 {
		return fmt.Sprintf("%s%.0f Pa}", head, f.Span), ""
	}
	return head + "2.5 kPa}", `write the span that the part's order code says in place of 2.5 kPa, and "one_sided: yes" for one that measures from 0 up`
}

// Place says where on its bus the part is.
func (f Found) Place() string {
	if f.Mux == 0 {
		return fmt.Sprintf("0x%02x", f.Address)
	}
	return fmt.Sprintf("mux 0x%02x port %d 0x%02x", f.Mux, f.Port, f.Address)
}

func (f Found) behind() string {
	if f.Mux == 0 {
		return ""
	}
	return fmt.Sprintf("mux: 0x%02x, port: %d, ", f.Mux, f.Port)
}

// asker tells whether its kind of part answers at an address.
type asker struct {
	chip string
	ask  func(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool)
}

// askers are asked in this order: those whose answer has a checksum or an identity first, since the others take less
// for an answer.
var askers = []asker{{"sdp8xx", askSDP8xx}, {"sdp3x", askSDP3x}, {"adp810", askADP810}, {"bme280", askBME280}, {"ads1115", askADS1115},
	{"dlh", askDLH}, {"abp2", askABP2}, {"hsc", askHSC}}

// Bus asks for every part that is known at each address that it is sold with, by rising address, and then behind each
// port of every multiplexer that answers. It leaves the multiplexers with no port joined.
func Bus(b i2c.Bus, name string, sleep func(time.Duration)) []Found {
	muxes := multiplexers(b)
	out := segment(b, sleep)
	trunk := &mux.Trunk{}
	for _, m := range muxes {
		trunk.Add(m)
	}
	for _, m := range muxes {
		for port := range mux.Ports {
			for _, f := range segment(&mux.Port{Trunk: trunk, Bus: b, Mux: m, Port: port}, sleep) {
				if !isOn(out, f.Address) {
					f.Mux, f.Port = m, port
					out = append(out, f)
				}
			}
		}
		_ = b.Tx(m, []byte{0}, nil)
	}
	for i := range out {
		out[i].Bus = name
	}
	return out
}

// isOn tells whether a part of an address was found on the bus itself, where it answers whatever port is joined.
func isOn(found []Found, address uint16) bool {
	return slices.ContainsFunc(found, func(f Found) bool { return f.Mux == 0 && f.Address == address })
}

// multiplexers finds the multiplexers of a bus, each by two values that its register takes and gives back, and leaves
// them with no port joined.
func multiplexers(b i2c.Bus) []uint16 {
	var found []uint16
	for a := mux.First; a <= mux.Last; a++ {
		if keeps(b, a, 0x02) && keeps(b, a, 0x00) {
			found = append(found, a)
		}
	}
	return found
}

// keeps tells whether the one register of a multiplexer keeps a value.
func keeps(b i2c.Bus, address uint16, value byte) bool {
	var got [1]byte
	return b.Tx(address, []byte{value}, nil) == nil && b.Tx(address, nil, got[:]) == nil && got[0] == value
}

// segment asks on a bus, or behind a port.
func segment(b i2c.Bus, sleep func(time.Duration)) []Found {
	var out []Found
	for _, address := range addresses() {
		if f, ok := at(b, address, sleep); ok {
			f.Address = address
			out = append(out, f)
		}
	}
	return out
}

// addresses lists where the parts that are known can be.
func addresses() []uint16 {
	var all []uint16
	for _, c := range shop.Chips {
		all = append(all, c.Addresses...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// at asks at one address. A part that answers a plain read and is none of those that are known is unknown.
func at(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	for _, a := range askers {
		if !sold(a.chip, address) {
			continue
		}
		if f, ok := a.ask(b, address, sleep); ok {
			f.Chip = a.chip
			return f, true
		}
	}
	var one [1]byte
	if b.Tx(address, nil, one[:]) == nil {
		return Found{About: "something answers that ductward does not know"}, true
	}
	return Found{}, false
}

// sold tells whether a chip is sold with an address.
func sold(chip string, address uint16) bool {
	for _, c := range shop.Chips {
		if c.Name == chip {
			return slices.Contains(c.Addresses, address)
		}
	}
	return false
}

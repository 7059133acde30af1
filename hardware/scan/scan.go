package scan

import (
	"fmt"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/internal/shop"
)

// Found is a part that answers.
type Found struct {
	Bus     string
	Address uint16
	Chip    string  // as the shop file names it; "" for one that is not known
	Span    float64 // Pa, where the part tells it; 0 where its order code does
	About   string
}

// Line is what the shop file would say of it, and what is left to fill in; "" for a part that is not known.
func (f Found) Line() (line, missing string) {
	if f.Chip == "" {
		return "", ""
	}
	head := fmt.Sprintf("from: {i2c: %s, chip: %s, address: 0x%02x, span: ", f.Bus, f.Chip, f.Address)
	if f.Span > 0 {
		return fmt.Sprintf("%s%.0f Pa}", head, f.Span), ""
	}
	return head + "2.5 kPa}", `write the span that the part's order code says in place of 2.5 kPa, and "one_sided: yes" for one that measures from 0 up`
}

// asker tells whether its kind of part answers at an address.
type asker struct {
	chip string
	ask  func(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool)
}

// askers are asked in this order: those whose answer has a checksum or an identity first, since the others take less
// for an answer.
var askers = []asker{{"sdp8xx", askSDP8xx}, {"abp2", askABP2}}

// Bus asks for every part that is known at each address that it is sold with, by rising address.
func Bus(b i2c.Bus, name string, sleep func(time.Duration)) []Found {
	var out []Found
	for _, address := range addresses() {
		if f, ok := at(b, address, sleep); ok {
			f.Bus, f.Address = name, address
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

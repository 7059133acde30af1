package shop

import (
	"fmt"
	"net"
	"net/url"
	"strconv"
	"strings"
)

// RegisterTable says which of a station's tables a value is in.
type RegisterTable int

// The tables.
const (
	InputRegister RegisterTable = iota
	HoldingRegister
	DiscreteInput
	Coil
)

// tables are the keys of the tables, in the order of the constants; the first two hold numbers, the others bits.
var tables = []string{"input_register", "holding_register", "discrete_input", "coil"}

// IsBit tells whether a table holds bits.
func (t RegisterTable) IsBit() bool { return t >= DiscreteInput }

// RegisterFormat is how a number lies in registers.
type RegisterFormat int

// The formats.
const (
	Int16 RegisterFormat = iota
	Uint16
	Int32
	Uint32
	Float32
)

var (
	formats  = []string{"int16", "uint16", "int32", "uint32", "float32"}
	orders   = []string{"high first", "low first"}
	parities = []string{"even", "odd", "none"}
)

// modbus reads a value of a Modbus station.
func (o *object) modbus(s *Source) {
	s.URL = o.word("modbus")
	if why := badLine(s.URL); s.URL != "" && why != "" {
		o.wrong(o.get("modbus"), fmt.Sprintf("modbus %s %s", shown(s.URL), why), `write "rtu:///dev/ttyUSB0" for a serial line or "tcp://192.168.1.40:502"`)
	}
	s.Station = uint8(o.count("station", 1, 247, 1)) // serial line guide, 2.2: 0 is for all, 248 to 255 are reserved
	o.require("station", "the station's number, such as \"station: 1\"")
	given := 0
	for i, key := range tables {
		if o.has(key) {
			given++
			s.Table, s.Register = RegisterTable(i), uint16(o.count(key, 0, 65535, 0))
		}
	}
	if given != 1 {
		o.wrong(o.get("modbus"), fmt.Sprintf("%d tables are named where one is wanted", given),
			"write one of "+quoted(tables)+" with its number on the wire, which counts from 0: what a manual calls 30001 or 40001 is 0")
	}
	if s.Format = Int16; !s.Table.IsBit() {
		s.Format = RegisterFormat(max(0, o.oneOf("as", formats)))
		o.require("as", "how the number lies there, one of "+quoted(formats))
		s.LowFirst = o.oneOf("words", orders) == 1
		s.Factor = o.number("factor", -1e6, 1e6, 1)
		s.Unit = o.word("unit")
	}
	if strings.HasPrefix(s.URL, "rtu:") {
		s.Baud = uint(o.count("baud", 1200, 921600, 19200))
		s.Parity = max(0, o.oneOf("parity", parities))
	}
}

// badLine tells what is wrong with the address of a line, "" if nothing is.
func badLine(line string) string {
	u, err := url.Parse(line)
	switch {
	case err != nil || u.Scheme != "rtu" && u.Scheme != "tcp":
		return "is no line"
	case u.Scheme == "rtu" && (u.Host != "" || !strings.HasPrefix(u.Path, "/dev/")):
		return "names no serial device"
	case u.Scheme == "rtu":
		return ""
	case u.Path != "" || u.RawQuery != "" || u.User != nil:
		return "has more than a host and a port"
	}
	host, port, err := net.SplitHostPort(u.Host)
	n, bad := strconv.Atoi(port)
	if err != nil || host == "" || bad != nil || n < 1 || n > 65535 {
		return "has no host with a port"
	}
	return ""
}

// measuredBy reports a Modbus source that is a bit where a number is wanted.
func (o *object) measuredBy(s *Source) {
	if s.Kind == SourceModbus && s.Table.IsBit() {
		o.wrong(o.get("from"), "a bit measures nothing", "write input_register or holding_register")
	}
}

// toldBy reports a Modbus source that is a number where a position is wanted.
func (o *object) toldBy(v *value, key string, s *Source) {
	if s.Kind == SourceModbus && !s.Table.IsBit() {
		o.wrong(v, key+" comes from a register, which is no switch", "write discrete_input or coil")
	}
}

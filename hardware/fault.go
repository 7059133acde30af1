package hardware

import (
	"fmt"
	"time"
)

// Code names a kind of fault. The names are shown and published: they are added to, never changed.
type Code string

// The kinds of fault.
const (
	NotAnswering Code = "not-answering" // no acknowledge: unplugged, no power, or another address
	BusLocked    Code = "bus-locked"    // a transfer did not end in time
	NoBus        Code = "no-bus"        // the board has no such bus, or it may not be opened
	NoPin        Code = "no-pin"        // the board has no such pin, or it cannot be an input
	WrongChip    Code = "wrong-chip"    // another part answers than the shop file names
	BadCRC       Code = "bad-crc"       // the bytes were damaged on the wire
	Busy         Code = "busy"          // the chip does not finish its conversion
	ChipError    Code = "chip-error"    // the chip reports a fault of its own, or answers what it never should
	LatchedUp    Code = "latched-up"    // the chip answers, and measures nothing
	Saturated    Code = "saturated"     // at or past an end of the range
	LoopFault    Code = "loop-fault"    // a transmitter's current says that it, or its wire, has failed
	Stuck        Code = "stuck"         // the same count again and again where there must be noise
	Chattering   Code = "chattering"    // a contact that does not come to rest
	Between      Code = "half-open"     // a gate that stands between its two contacts
	BothEnds     Code = "both-ends"     // the contacts at both ends of a gate are closed
	NoPort       Code = "no-port"       // a selector that stands at none of its ports
	TwoPorts     Code = "two-ports"     // the switches at two ports of a selector are closed
	NoBroker     Code = "no-broker"     // no connection to the MQTT broker
	Stale        Code = "stale"         // nothing has come for too long
	Refused      Code = "refused"       // what came is not a value of this channel
)

// Fault is why a channel has no value. It does not change once it is made.
type Fault struct {
	Code    Code
	Channel string
	Where   string        // bus and address, pin, or topic
	Remedy  string        // what to do, safest first
	Since   time.Duration // monotonic time at which the channel was first without a value
	Err     error         // the cause; may be nil
	Cycles  int           // how often the supply of its bus was switched off and on since then
}

// Error says what, where and what to do.
func (f *Fault) Error() string {
	s := fmt.Sprintf("%s: %s, %s", f.Channel, f.Code, f.Where)
	if f.Err != nil {
		s += ": " + f.Err.Error()
	}
	s += f.Tried()
	if f.Remedy != "" {
		s += "; " + f.Remedy
	}
	return s
}

// Tried says what the program has done about it by itself, "" if nothing.
func (f *Fault) Tried() string {
	switch f.Cycles {
	case 0:
		return ""
	case 1:
		return "; the supply of its bus was switched off and on once"
	}
	return fmt.Sprintf("; the supply of its bus was switched off and on %d times", f.Cycles)
}

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Err }

// Remedy is what to do about a fault of this kind, safest first.
func (c Code) Remedy() string { return remedies[c] }

// remedies holds the advice for each code, safest first.
var remedies = map[Code]string{
	NotAnswering: "check the plug, the supply and the address; other parts on the bus tell whether it is the part or the bus",
	BusLocked:    "switch the sensors' supply off and on; if it comes back, shorten the wires or slow the bus down",
	NoBus:        "check the bus's name in the shop file, that I²C is switched on for the board, and the rights of the daemon's user",
	NoPin:        "check the pin's name in the shop file, and that no other program uses the pin",
	WrongChip:    "correct the chip or its span in the shop file, or fit the part that it names",
	BadCRC:       "shorten the wires, keep them away from the fan's drive cable, or slow the bus down",
	Busy:         "switch the sensor's supply off and on; replace the part if it stays so",
	ChipError:    "switch the sensor's supply off and on; replace the part if it stays so",
	LatchedUp:    "switch the sensor's supply off and on",
	Saturated:    "check that the tubes are not swapped or blown into; if the pressure is real, fit a part of a wider range",
	LoopFault:    "check the wire, the clamps and the transmitter's supply, then the transmitter",
	Stuck:        "switch the sensor's supply off and on; replace the part if it stays so",
	Chattering:   "tighten the wires; fasten the switch so that it does not vibrate; look for a neighbouring drive cable",
	Between:      "open or shut the gate fully; if it is, see whether its contact is reached and its wire whole",
	NoPort:       "move the selector fully to one of its ports; if it is, see whether its switch is reached and its wire whole",
	TwoPorts:     "see whether a switch sticks or its wires touch",
	BothEnds:     "see whether a contact sticks or its wires touch",
	NoBroker:     "check that the broker runs, and its address, user and password in the shop file",
	Stale:        "check that what publishes the value runs, and that stale: is longer than its interval",
	Refused:      "correct what is published, or field: and unit: in the shop file",
}

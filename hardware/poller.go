package hardware

import (
	"time"

	"ductward/internal/reading"
)

// Poller asks one source for one value. It is for one goroutine; pollers of one group share wires and should share
// their goroutine too.
type Poller interface {
	// Channel is the channel's name as package reading states it.
	Channel() string

	// Interval is how often Read should be called. Calling it more seldom is harmless.
	Interval() time.Duration

	// Read measures now. The value is SI. The error is a *Fault, and then the value is NaN. After a fault that costs
	// bus time Read waits longer and longer, up to half a minute, before it asks the part again; until then it returns
	// the standing fault at once.
	Read() (float64, reading.Quality, error)
}

// Starter is a Poller whose part can be told to measure before it is read. Where the parts of a group are all told so
// first, they measure at the same time, and only the first of them is waited for.
type Starter interface {
	// Start lets the part measure for the next Read, which should follow at once. It does nothing where Read would not
	// ask the part, and tells of no error: Read then begins anew.
	Start()
}

// Detail is what a person at the bench wants to know of a source beside its value. Every poller of a Set has it. Its
// methods are for the goroutine that calls Read.
type Detail interface {
	// Where names the bus and address, the pin or the topic.
	Where() string

	// Raw is what the source itself said at the last Read, in its own terms: a chip's count, a pin's level, a payload.
	// "" before the first answer.
	Raw() string
}

// Group is a number of pollers on the same wires: one I²C bus, or the board's pins.
type Group struct {
	Bus     string // "i2c 1", "gpio" or "fixed"
	Pollers []Poller
}

// Intervals of what has none in the shop file.
const (
	defaultInterval = time.Second
	switchInterval  = 500 * time.Millisecond // a move is told within a second; windows drop far more than that after it
	fixedInterval   = time.Minute
)

// fixed is a switch that never moves.
type fixed struct {
	channel string
	value   float64
}

func (f *fixed) Channel() string                         { return f.channel }
func (f *fixed) Where() string                           { return "fixed" }
func (f *fixed) Raw() string                             { return "" }
func (f *fixed) Interval() time.Duration                 { return fixedInterval }
func (f *fixed) Read() (float64, reading.Quality, error) { return f.value, reading.Good, nil }

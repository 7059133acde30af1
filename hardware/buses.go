package hardware

import (
	"fmt"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"
)

// Buses gives access to the wires. It is asked again when a bus or a pin was missing, so it may fail now and succeed
// later. A bus that it returns is asked by one goroutine at a time, and must answer or fail within a bounded time:
// NewBounded makes such a bus of one that might not.
type Buses interface {
	I2C(name string) (i2c.Bus, error)
	Pin(name string) (gpio.PinIn, error)
}

// Lister is implemented by Buses that know which I²C buses there are.
type Lister interface{ I2CNames() []string }

// noBuses is what a board without wires has; a shop whose sources are all published needs none.
type noBuses struct{}

func (noBuses) I2C(name string) (i2c.Bus, error) {
	return nil, fmt.Errorf("i2c bus %q: this program was started without access to the board's buses", name)
}

func (noBuses) Pin(name string) (gpio.PinIn, error) {
	return nil, fmt.Errorf("pin %q: this program was started without access to the board's pins", name)
}

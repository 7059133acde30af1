package rig

import (
	"errors"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// pin is one pin with a switch on it.
type pin struct {
	rig       *Rig
	name      string
	activeLow bool
	active    func() bool
	pull      gpio.Pull
	faults    faults
	held      gpio.Level // by a switch that sticks
}

// String, Name, Number, Function and Halt make it a pin of periph's.
func (p *pin) String() string   { return p.name }
func (p *pin) Name() string     { return p.name }
func (p *pin) Number() int      { return -1 }
func (p *pin) Function() string { return "In" }
func (p *pin) Halt() error      { return nil }

// In makes it an input. Edges are not simulated.
func (p *pin) In(pull gpio.Pull, edge gpio.Edge) error {
	if edge != gpio.NoEdge {
		return errors.New("rig: pin " + p.name + " tells no edges; read it")
	}
	p.rig.mu.Lock()
	defer p.rig.mu.Unlock()
	p.pull = pull
	return nil
}

// Read returns the level. A cut wire leaves what the pull makes of it.
func (p *pin) Read() gpio.Level {
	p.rig.mu.Lock()
	defer p.rig.mu.Unlock()
	p.rig.moment()
	return p.level()
}

func (p *pin) level() gpio.Level {
	switch {
	case p.faults.unplugged:
		return p.pull == gpio.PullUp
	case p.faults.chatters:
		p.held = !p.held
		return p.held
	case p.faults.stuck:
		return p.held
	}
	return gpio.Level(p.active() != p.activeLow)
}

// WaitForEdge waits for nothing: edges are not simulated.
func (p *pin) WaitForEdge(time.Duration) bool { return false }

// Pull returns the pull that In set, DefaultPull none.
func (p *pin) Pull() gpio.Pull { return p.pull }

// DefaultPull returns the pull at power-up.
func (p *pin) DefaultPull() gpio.Pull { return gpio.Float }

func (p *pin) fail(f fault) error {
	p.held = p.level()
	switch f {
	case unplug, stick:
		return p.faults.set(f)
	case chatter:
		p.faults.chatters = true
		return nil
	}
	return errors.New("a switch can only be cut off, stick or chatter")
}

func (p *pin) mend() { p.faults = faults{} }

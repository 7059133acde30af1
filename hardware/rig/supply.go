package rig

import (
	"fmt"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"

	"ductward/internal/shop"
)

// supplyPin is a pin that switches the supply of the parts on a bus. Without it they answer nobody.
type supplyPin struct {
	rig *Rig
	of  *shop.Bus
	bus *bus
}

// String, Name, Number, Function, Halt and PWM make it a pin of periph's.
func (p *supplyPin) String() string   { return p.of.Power }
func (p *supplyPin) Name() string     { return p.of.Power }
func (p *supplyPin) Number() int      { return -1 }
func (p *supplyPin) Function() string { return "Out" }
func (p *supplyPin) Halt() error      { return nil }
func (p *supplyPin) PWM(gpio.Duty, physic.Frequency) error {
	return fmt.Errorf("rig: pin %s has no PWM", p)
}

// Out switches the supply.
func (p *supplyPin) Out(l gpio.Level) error {
	p.rig.mu.Lock()
	defer p.rig.mu.Unlock()
	p.bus.dark = bool(l) == p.of.ActiveLow
	return nil
}

// supplyPins wires the pins that switch a supply, which is off until one is driven: the harder of the two ways to wire it.
func (r *Rig) supplyPins(s *shop.Shop) {
	for _, x := range s.Buses {
		if b := r.busNamed(busName(x.Bus)); b != nil {
			b.dark = true
			r.supplies = append(r.supplies, &supplyPin{rig: r, of: x, bus: b})
		}
	}
}

// Output returns a pin that switches the supply of a bus.
func (r *Rig) Output(name string) (gpio.PinOut, error) {
	for _, p := range r.supplies {
		if p.of.Power == name {
			return p, nil
		}
	}
	return nil, fmt.Errorf("rig: no supply of the shop is switched by pin %q", name)
}

package rig

import (
	"errors"
	"fmt"
	"slices"

	"ductward/internal/clock"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// Still is a rig on which nothing happens by itself: whoever holds it starts and stops the fans. It shows what a shop's
// wires would say before there are any.
type Still struct {
	*Rig
	plants []*plant.Plant
}

// NewStill makes the plants of a shop as it is drawn, with the errors that a plant has, and wires them. Every fan runs,
// and the gates of the first machine that can be open stand open. Every collector must have a drawing.
func NewStill(s *shop.Shop, clk clock.Clock, seed uint64) (*Still, error) {
	plants := map[string]*plant.Plant{}
	out := &Still{}
	for i, c := range s.Collectors {
		if c.Network == nil {
			return nil, fmt.Errorf("rig: collector %q has no drawing of its ducts, so that nothing can be simulated; write \"ducts\" in the shop file", c.Name)
		}
		p, err := plant.New(c, s.Site, plant.DefaultOptions(seed+uint64(i)))
		if err != nil {
			return nil, fmt.Errorf("rig: collector %q: %w", c.Name, err)
		}
		if err := openOne(p, c); err != nil {
			return nil, fmt.Errorf("rig: collector %q: %w", c.Name, err)
		}
		p.SetFan(true)
		plants[c.Name] = p
		out.plants = append(out.plants, p)
	}
	r, err := New(plants, s, clk)
	if err != nil {
		return nil, err
	}
	out.Rig = r
	return out, nil
}

// openOne opens the way of the first machine that can be open.
func openOne(p *plant.Plant, c *shop.Collector) error {
	setting, err := c.SettingFor(nil)
	for i := 0; i < len(c.Machines) && (i == 0 || err != nil); i++ {
		setting, err = c.SettingFor([]string{c.Machines[i].Name})
	}
	if err != nil {
		return err
	}
	var errs []error
	for _, g := range c.Gates {
		errs = append(errs, p.SetGate(g.Name, setting.Open[g.Name]))
	}
	for _, s := range c.Selectors {
		errs = append(errs, p.SetPort(s.Name, setting.Port[s.Name]))
	}
	return errors.Join(errs...)
}

// SetFans starts or stops every fan.
func (s *Still) SetFans(on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.moment()
	for _, p := range s.plants {
		p.SetFan(on)
	}
}

// OpenGates lists the gates that stand open.
func (s *Still) OpenGates(c *shop.Collector) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var open []string
	for _, g := range c.Gates {
		if slices.ContainsFunc(s.plants, func(p *plant.Plant) bool { return p.GateOpen(g.Name) }) {
			open = append(open, g.Name)
		}
	}
	return open
}

package shop

import (
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"
)

// SettingFor turns names into the setting in which everything that they ask for is open. A name is a gate, a machine
// (its gates open, its selectors set) or "SELECTOR=PORT", with the port's name or number. A machine goes before a gate
// of the same name. Gates that never move stand as they are. Unknown names and two positions for one selector are
// errors; an unknown name lists what there is.
func (c *Collector) SettingFor(names []string) (Setting, error) {
	st := Setting{Open: map[string]bool{}, Port: map[string]int{}}
	for _, g := range c.Gates {
		if g.Position != nil && g.Position.Kind == SourceFixed && g.Position.Fixed {
			st.Open[g.Name] = true
		}
	}
	var errs []error
	for _, name := range names {
		errs = append(errs, c.open(&st, strings.TrimSpace(name)))
	}
	if err := errors.Join(errs...); err != nil {
		return Setting{}, err
	}
	return st, nil
}

// open adds one name to the setting.
func (c *Collector) open(st *Setting, name string) error {
	selector, port, isPort := strings.Cut(name, "=")
	switch {
	case name == "":
		return nil
	case isPort:
		return c.turn(st, strings.TrimSpace(selector), strings.TrimSpace(port))
	case c.Machine(name) != nil:
		for _, g := range c.MachineGates(name) {
			if err := c.slide(st, g); err != nil {
				return fmt.Errorf("machine %q: %w", name, err)
			}
		}
		return c.turnAll(st, c.machinePorts(name))
	case c.Gate(name) != nil:
		return c.slide(st, name)
	}
	known := c.openable()
	return fmt.Errorf("collector %q has no gate or machine %q; %s", c.Name, name, choose(name, known))
}

// slide opens one gate.
func (c *Collector) slide(st *Setting, name string) error {
	if g := c.Gate(name); g != nil && g.Position != nil && g.Position.Kind == SourceFixed && !g.Position.Fixed {
		return fmt.Errorf("gate %q is always shut; change its position in the shop file if it can be opened", name)
	}
	st.Open[name] = true
	return nil
}

// turnAll sets selectors in the order of their names, so that errors come in a fixed order.
func (c *Collector) turnAll(st *Setting, ports map[string]int) error {
	names := make([]string, 0, len(ports))
	for s := range ports {
		names = append(names, s)
	}
	sort.Strings(names)
	for _, s := range names {
		if err := c.turnTo(st, s, ports[s]); err != nil {
			return err
		}
	}
	return nil
}

// turn sets a selector to a port given by its name or number; "0" and "none" shut all its ports.
func (c *Collector) turn(st *Setting, name, port string) error {
	s := c.Selector(name)
	if s == nil {
		var known []string
		for _, s := range c.Selectors {
			known = append(known, s.Name)
		}
		if len(known) == 0 {
			return fmt.Errorf("collector %q has no selector %q, nor any other", c.Name, name)
		}
		return fmt.Errorf("collector %q has no selector %q; %s", c.Name, name, choose(name, known))
	}
	if port == "none" {
		return c.turnTo(st, name, 0)
	}
	for i, p := range s.Ports {
		if p == port {
			return c.turnTo(st, name, i+1)
		}
	}
	if n, err := strconv.Atoi(port); err == nil && n >= 0 && n <= len(s.Ports) {
		return c.turnTo(st, name, n)
	}
	return fmt.Errorf("selector %q has no port %q; %s, or a number from 0 to %d", name, port, choose(port, s.Ports), len(s.Ports))
}

func (c *Collector) turnTo(st *Setting, name string, port int) error {
	if at, ok := st.Port[name]; ok && at != port {
		return fmt.Errorf("selector %q cannot stand at %q and at %q at once; name one of them", name, c.portName(name, at), c.portName(name, port))
	}
	st.Port[name] = port
	return nil
}

func (c *Collector) portName(selector string, port int) string {
	if s := c.Selector(selector); s != nil && port >= 1 && port <= len(s.Ports) {
		return s.Ports[port-1]
	}
	return "none"
}

// openable lists what SettingFor takes.
func (c *Collector) openable() []string {
	var known []string
	for _, m := range c.Machines {
		known = append(known, m.Name)
	}
	for _, g := range c.Gates {
		known = append(known, g.Name)
	}
	for _, s := range c.Selectors {
		for _, p := range s.Ports {
			known = append(known, s.Name+"="+p)
		}
	}
	return unique(known)
}

package bound

import (
	"slices"
	"strings"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// Kind is what a change is about.
type Kind int

// The kinds of change.
const (
	Leak  Kind = iota // m³/s at the reference suction
	Block             // log loss of a machine's drop
	Choke             // log loss of a run that serves several machines
	Speed             // log speed of the fan
	Scale             // log scale of a sensor
)

// Change is one thing that may become otherwise.
type Change struct {
	Kind   Kind
	Part   string // a leak part, a machine, a run, "" for the fan, a channel
	Branch string // "trunk", a machine, or "" where it is neither
}

// Trunk is the branch of what serves several machines.
const Trunk = "trunk"

// OpenSide tells that a change is a leak on the machine's side of its gate, which no pressure tells from a loss of its drop.
func (c Change) OpenSide() bool { return c.Kind == Leak && strings.HasPrefix(c.Part, "open-side:") }

// changes lists what may change in a collector: leaks at every part that can be told at all, drops, trunk runs, the fan;
// last the scale of each sensor but that of the filter, which its resistance hides.
func changes(c *shop.Collector, m *duct.Model, channels []Channel) []Change {
	branch, many := branches(c), c.Served()
	var out []Change
	for _, part := range m.LeakParts() {
		kind, name, _ := strings.Cut(part, ":")
		if kind == "run" && !c.LeaksApart(name) {
			continue // its drop or open side says the same
		}
		if kind == "run" {
			branch[part] = Trunk // of one machine alone too, where a tap parts it from the drop
		}
		out = append(out, Change{Leak, part, branch[part]})
	}
	for _, machine := range c.Machines {
		if len(c.PathOf(machine.Name)) > 0 {
			out = append(out, Change{Block, machine.Name, machine.Name})
		}
	}
	for _, r := range c.Network.Runs {
		if many[r.Name] > 1 && r.Gate == "" {
			out = append(out, Change{Choke, r.Name, Trunk})
		}
	}
	return append(append(out, Change{Kind: Speed}), scales(channels)...)
}

// scales lists the scales that may change.
func scales(channels []Channel) []Change {
	var out []Change
	for _, ch := range channels {
		if !ch.Virtual && ch.Measures != shop.FilterDrop {
			out = append(out, Change{Kind: Scale, Part: ch.Name})
		}
	}
	return out
}

// branches names the branch of every leak part: of the machine that alone breathes through it, or the trunk.
func branches(c *shop.Collector) map[string]string {
	users := map[string][]string{}
	for _, m := range c.Machines {
		users["open-side:"+m.Name] = []string{m.Name}
		for _, r := range c.PathOf(m.Name) {
			users["run:"+r.Name] = append(users["run:"+r.Name], m.Name)
			if r.Gate != "" && !slices.Contains(users["seat:"+r.Gate], m.Name) {
				users["seat:"+r.Gate] = append(users["seat:"+r.Gate], m.Name)
				users["drop:"+r.Gate] = append(users["drop:"+r.Gate], m.Name)
			}
		}
	}
	out := map[string]string{}
	for part, machines := range users {
		out[part] = Trunk
		if len(machines) == 1 {
			out[part] = machines[0]
		}
	}
	return out
}

// param is the duct model's parameter of a change, with the exponent of a leak; not ok where no duct enters.
func (c Change) param(exponent float64) (duct.Param, bool) {
	switch c.Kind {
	case Leak:
		return duct.Param{Kind: duct.LeakAt, Part: c.Part, Exponent: exponent}, true
	case Block:
		return duct.Param{Kind: duct.LogBlock, Part: c.Part}, true
	case Choke:
		return duct.Param{Kind: duct.LogChoke, Part: c.Part}, true
	case Speed:
		return duct.Param{Kind: duct.LogFanSpeed}, true
	}
	return duct.Param{}, false
}

package improve

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/shop"
)

const (
	tightSeat = 1.0 / 3600 // m³/s at 1500 Pa past a new gate: common practice, no source
	leakySeat = 2 * tightSeat
	poorSeat  = 10 * tightSeat // from here on a gate is worth a proposal of its own
	freeLoss  = 0.05           // of a gate that leaves the whole bore free: common practice, no source
)

// gates replaces gates that leak past their seat, all or the worst one by one, and those that stand in the air's way.
func gates(c *shop.Collector) []change {
	var out []change
	var leaky []string
	for _, g := range c.Gates {
		if g.SeatLeak > leakySeat {
			leaky = append(leaky, g.Name)
		}
		if g.SeatLeak > poorSeat {
			out = append(out, tightGates(c, "the "+gateWord(g.Name), []string{g.Name}))
		}
		if ch, ok := freeGate(c, g); ok {
			out = append(out, ch)
		}
	}
	if len(leaky) > 1 {
		out = append(out, tightGates(c, fmt.Sprintf("the %d gates that let more than 2 m3/h through", len(leaky)), leaky))
	}
	return out
}

// gateWord is a gate's name as a thing.
func gateWord(name string) string {
	if strings.Contains(strings.ToLower(name), "gate") {
		return name
	}
	return "gate " + name
}

func tightGates(c *shop.Collector, which string, names []string) change {
	return change{
		kind: TightGate, place: "seat " + strings.Join(names, ", "),
		text:    fmt.Sprintf("replace %s by tight ones", which),
		assumes: []string{"1 m3/h passes a new gate that is shut, at 1500 Pa"},
		draw: func(d *draft) {
			for _, n := range names {
				g := d.Gate(n)
				g.SeatLeak, g.SeatN = tightSeat, 0
				d.bought.add(gate, gateDiameter(c, n), 1)
			}
		},
	}
}

// freeGate replaces a gate whose blade, frame or half-opened slide stands in the way.
func freeGate(c *shop.Collector, g *shop.Gate) (change, bool) {
	how, buys := "", true
	switch {
	case g.Kind == shop.Butterfly:
		how = fmt.Sprintf("replace the butterfly %s by a slide that leaves the whole bore free", gateWord(g.Name))
	case g.Kind == shop.Framed:
		how = fmt.Sprintf("replace %s, whose frame leaves %s, by one that leaves the whole bore free", gateWord(g.Name), mm(g.Bore))
	case g.Opens > 0 && g.Opens < 1:
		how, buys = fmt.Sprintf("mend %s so that it opens fully and not by %.0f %%", gateWord(g.Name), 100*g.Opens), false
	case g.Open > 4*freeLoss:
		how = fmt.Sprintf("replace %s, which loses %.2g of the velocity pressure, by one that leaves the whole bore free", gateWord(g.Name), g.Open)
	default:
		return change{}, false
	}
	return change{
		kind: FreeGate, place: "bore " + g.Name, text: how, assumes: []string{"an open gate that leaves the whole bore free loses 0.05 of the velocity pressure"},
		draw: func(d *draft) {
			own := d.Gate(g.Name)
			own.Kind, own.Bore, own.Opens, own.Open = shop.FullBore, 0, 1, freeLoss
			if buys {
				d.bought.add(gate, gateDiameter(c, g.Name), 1)
			}
		},
	}, true
}

// gateDiameter is the diameter of the run that a gate is in, NaN for one in none.
func gateDiameter(c *shop.Collector, name string) float64 {
	for _, r := range c.Network.Runs {
		if r.Gate == name {
			return r.Diameter
		}
	}
	return math.NaN()
}

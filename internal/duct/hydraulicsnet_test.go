package duct_test

import (
	"math"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// ductNet is a network of ducts in a form that belongs to no program: what testdata/hydraulics/networks.json.gz holds and
// what the general network solver there is given. The room, at 0 Pa, is the node "room", the collector's inlet "inlet";
// every other node is a plain joint without a loss of its own.
type ductNet struct {
	Name      string       `json:"name"`
	Nodes     []string     `json:"nodes"` // the room not counted
	Pipes     []ductPipe   `json:"pipes"`
	Separator netSeparator `json:"separator"`
	Filter    float64      `json:"filter_pa_s_m3"` // Pa per m³/s
	Fan       netFan       `json:"fan"`
	Discharge ductPipe     `json:"discharge"`
	Density   float64      `json:"density_kg_m3"`
	Viscosity float64      `json:"viscosity_pa_s"`
}

// ductPipe is one pipe; its loss coefficient is on its own velocity pressure.
type ductPipe struct {
	ID        string  `json:"id,omitempty"`
	From      string  `json:"from,omitempty"`
	To        string  `json:"to,omitempty"`
	Diameter  float64 `json:"diameter_m"`
	Length    float64 `json:"length_m"`
	Roughness float64 `json:"roughness_m"`
	Loss      float64 `json:"loss"`
	Gate      bool    `json:"gate,omitempty"` // it has a gate, without a loss of its own
	Shut      bool    `json:"shut,omitempty"` // and that is shut
}

type netSeparator struct {
	Diameter float64 `json:"diameter_m"`
	Loss     float64 `json:"loss"`
}

// netFan is a fan curve of straight lines, (m³/s, Pa) at its density, and the speed over that of the curve.
type netFan struct {
	Points  [][2]float64 `json:"points"`
	Density float64      `json:"density_kg_m3"`
	Speed   float64      `json:"speed"`
}

const (
	netRoom  = "room"
	netInlet = "inlet"
)

// collector is the network as a shop's drawing: each pipe one run without seams, each pipe from the room a machine's.
func (n *ductNet) collector() *shop.Collector {
	area := math.Pi / 4 * n.Separator.Diameter * n.Separator.Diameter
	c := &shop.Collector{
		Name: n.Name, Rating: math.NaN(), Network: &shop.Network{},
		// The model's filter goes with the viscosity of the air.
		Filter:    shop.Filter{CleanDrop: n.Filter * air.Reference().Viscosity / n.Viscosity, CleanFlow: 1},
		Separator: &shop.Separator{Name: "separator", Flow: 1, Density: n.Density, Loss: n.Separator.Loss * n.Density / 2 / (area * area)},
		Fan:       shop.Fan{Density: n.Fan.Density, Speed: math.NaN()},
		Discharge: &shop.Discharge{
			Diameter: n.Discharge.Diameter, Length: n.Discharge.Length, Roughness: n.Discharge.Roughness, Loss: n.Discharge.Loss,
		},
	}
	for _, p := range n.Fan.Points {
		c.Fan.Points = append(c.Fan.Points, shop.CurvePoint{Flow: p[0], Pressure: p[1], Power: math.NaN()})
	}
	for _, node := range n.Nodes {
		if node != netInlet {
			c.Network.Junctions = append(c.Network.Junctions, &shop.Junction{Name: node})
		}
	}
	for _, p := range n.Pipes {
		n.draw(c, p)
	}
	return c
}

func (n *ductNet) draw(c *shop.Collector, p ductPipe) {
	r := &shop.Run{
		Name: p.ID, Diameter: p.Diameter, Length: p.Length, Roughness: p.Roughness, Rating: math.NaN(),
		From:     shop.End{Kind: shop.EndJunction, Name: p.From},
		To:       shop.End{Kind: shop.EndJunction, Name: p.To},
		Fittings: []shop.Fitting{{Kind: shop.FixedLoss, Coefficient: p.Loss}},
	}
	if p.From == netRoom {
		r.From = shop.End{Kind: shop.EndMachine, Name: p.ID}
		c.Machines = append(c.Machines, &shop.Machine{Name: p.ID, Needs: math.NaN()})
	}
	if p.To == netInlet {
		r.To = shop.End{Kind: shop.EndCollector}
	}
	if p.Gate {
		r.Gate = "gate of " + p.ID
		c.Gates = append(c.Gates, &shop.Gate{Name: r.Gate})
	}
	c.Network.Runs = append(c.Network.Runs, r)
}

// state is the state in which the network was solved.
func (n *ductNet) state() duct.State {
	st := duct.State{
		Air:      air.State{Density: n.Density, Viscosity: n.Viscosity},
		FanSpeed: n.Fan.Speed,
		Setting:  shop.Setting{Open: map[string]bool{}},
	}
	for _, p := range n.Pipes {
		if p.Gate {
			st.Setting.Open["gate of "+p.ID] = !p.Shut
		}
	}
	return st
}

// pressures are the total pressures (Pa) of the nodes, in their order: that at the end of a run that ends there.
func (n *ductNet) pressures(r *duct.Result) []float64 {
	at := map[string]float64{}
	for i, p := range n.Pipes {
		v := r.Runs[i].Velocity
		at[p.To] = r.Runs[i].StaticEnd + n.Density/2*v*v
	}
	out := make([]float64, len(n.Nodes))
	for i, node := range n.Nodes {
		p, ok := at[node]
		if !ok {
			p = math.NaN()
		}
		out[i] = p
	}
	return out
}

package duct_test

import (
	"fmt"
	"math"
	"strconv"
)

// netDrawing draws a random network of a stated number of pipes.
type netDrawing struct {
	dice
	net    *ductNet
	joints int
	taken  float64 // m³/s: what the open drops would take at the design velocity
	open   float64 // share of the drops that are open
}

// By what a trunk is sized: the velocity (m/s) in it, and the share of its drops that are open at once.
const (
	designVelocity = 20.0
	openAtOnce     = 0.6
)

// drawNet draws a network of so many pipes: a tree but for its cross pipes and leaks.
func drawNet(name string, seed uint64, pipes, cross, leaks int) *ductNet {
	d := &netDrawing{dice: newDice(seed), net: &ductNet{Name: name, Nodes: []string{netInlet}}}
	d.open = []float64{0.15, 0.4, 0.7, 1}[d.int(0, 3)]
	d.net.Density = digits(d.float(1.02, 1.29))
	d.net.Viscosity = digits(d.float(1.70e-5, 1.92e-5))
	d.tree(pipes - cross - leaks)
	for i := range cross {
		d.cross(fmt.Sprintf("cross %d", i+1))
	}
	for i := range leaks {
		d.leak(fmt.Sprintf("leak %d", i+1))
	}
	d.machinery()
	return d.net
}

// tree draws a tree of n pipes: a trunk that divides into trunks and drops. A tree of m drops has 2m - 1 pipes; where that
// does not come to n, one drop is of two pipes.
func (d *netDrawing) tree(n int) {
	drop := d.branch((n+1)/2, netInlet)
	if n%2 == 0 {
		d.split(drop)
	}
}

// branch draws the pipe that ends at a node and everything before it, with a number of drops, and gives one of the drops.
func (d *netDrawing) branch(drops int, to string) (drop int) {
	if drops == 1 {
		return d.drop(to)
	}
	node := d.joint()
	// A trunk takes up drops one by one, and now and then another trunk.
	side := 1
	if drops > 3 && d.int(0, 2) > 0 {
		side = d.int(1, drops/2)
	}
	drop = d.branch(drops-side, node)
	d.branch(side, node)
	flow := float64(drops) * openAtOnce * designVelocity * math.Pi / 4 * 0.12 * 0.12
	d.add(ductPipe{
		ID: "trunk " + node, From: node, To: to,
		Diameter: digits(d.float(0.9, 1.1) * math.Max(0.12, math.Sqrt(flow/designVelocity*4/math.Pi))),
		Length:   digits(d.float(0.4, 6)), Roughness: d.roughness(), Loss: digits(d.float(0, 0.4)),
	})
	return drop
}

func (d *netDrawing) drop(to string) int {
	p := ductPipe{
		ID: fmt.Sprintf("drop %d", len(d.net.Pipes)+1), From: netRoom, To: to,
		Diameter: digits(d.float(0.08, 0.16)), Length: digits(d.float(0.8, 8)), Roughness: d.roughness(),
		Loss: digits(d.float(0.5, 3)), Gate: true, Shut: d.Float64() >= d.open,
	}
	if d.int(0, 9) == 0 { // no gate: always open
		p.Gate, p.Shut = false, false
	}
	if !p.Shut {
		d.taken += designVelocity * math.Pi / 4 * p.Diameter * p.Diameter
	}
	return d.add(p)
}

// split makes two pipes of one, a hose before the rest of the drop.
func (d *netDrawing) split(drop int) {
	rest := &d.net.Pipes[drop]
	node := d.joint()
	hose := ductPipe{
		ID: "hose of " + rest.ID, From: netRoom, To: node, Diameter: rest.Diameter, Length: digits(d.float(0.5, 3)),
		Roughness: digits(d.float(5e-4, 1.5e-3)), Loss: digits(d.float(0.3, 1)),
	}
	rest.From = node
	d.add(hose)
}

// cross draws a pipe between two joints, with or without a gate.
func (d *netDrawing) cross(id string) {
	from, to := d.anyNode(), d.anyNode()
	for from == to || from == netInlet {
		from, to = d.anyNode(), d.anyNode()
	}
	p := ductPipe{
		ID: id, From: from, To: to, Diameter: digits(d.float(0.1, 0.25)), Length: digits(d.float(1, 12)),
		Roughness: d.roughness(), Loss: digits(d.float(0.2, 2)), Gate: d.int(0, 1) == 1,
	}
	p.Shut = p.Gate && d.int(0, 2) == 0
	d.add(p)
}

// leak draws an opening to the room: a round hole in the sheet, whose loss coefficient is that of a sharp edge, or a duct
// that is all but stopped up.
func (d *netDrawing) leak(id string) {
	p := ductPipe{ID: id, From: netRoom, To: d.anyNode()}
	if d.int(0, 1) == 0 {
		p.Diameter, p.Length, p.Roughness = digits(d.float(0.008, 0.06)), 0.001, 1e-5
		p.Loss = digits(d.float(2.5, 2.9))
	} else {
		p.Diameter, p.Length, p.Roughness = digits(d.float(0.08, 0.16)), digits(d.float(0.3, 1)), d.roughness()
		p.Loss = digits(math.Exp(d.float(math.Log(100), math.Log(20000))))
	}
	d.add(p)
}

// machinery draws what the collector has: a fan for the flow of the open drops, the rest to suit it.
func (d *netDrawing) machinery() {
	flow := math.Max(d.taken, 0.1) * d.float(0.6, 1.3)
	bore := digits(math.Sqrt(flow / 15 * 4 / math.Pi))
	d.net.Separator = netSeparator{Diameter: bore, Loss: digits(d.float(0.5, 3))}
	d.net.Filter = digits(d.float(150, 900) / flow)
	d.net.Discharge = ductPipe{Diameter: bore, Length: digits(d.float(0.5, 8)), Roughness: 9e-5, Loss: digits(d.float(1, 2))}
	d.net.Fan = netFan{Density: 1.2, Speed: digits(d.float(0.75, 1.1))}
	top, reach := d.float(1800, 4000), d.float(1.5, 2)*flow
	for i := range 11 {
		x := float64(i) / 10
		d.net.Fan.Points = append(d.net.Fan.Points, [2]float64{digits(x * reach), digits(top * (1 - 0.05*x - 0.85*x*x))})
	}
}

func (d *netDrawing) add(p ductPipe) int {
	d.net.Pipes = append(d.net.Pipes, p)
	return len(d.net.Pipes) - 1
}

func (d *netDrawing) joint() string {
	d.joints++
	node := "j" + strconv.Itoa(d.joints)
	d.net.Nodes = append(d.net.Nodes, node)
	return node
}

func (d *netDrawing) anyNode() string { return d.net.Nodes[d.int(0, len(d.net.Nodes)-1)] }

// roughness (m) of pipes from drawn plastic to spiral duct and old galvanised sheet.
func (d *netDrawing) roughness() float64 {
	return digits([]float64{1e-5, 4.5e-5, 9e-5, 9e-5, 1.5e-4}[d.int(0, 4)])
}

// digits rounds to four significant digits, so that a network reads the same in every program.
func digits(x float64) float64 {
	v, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 4, 64), 64)
	if err != nil {
		panic(err) // it was just written
	}
	return v
}

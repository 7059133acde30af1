package duct_test

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// chooser draws the numbers of a random shop.
type chooser interface {
	float(lo, hi float64) float64
	int(lo, hi int) int // both ends included
}

// drawing builds a shop's collector piece by piece.
type drawing struct {
	*shop.Collector
	chooser
	lossless bool // no wyes
}

// randomShop is a random shop: a trunk with drops and side trunks, a gate on every drop, seams, worn seats, sensors.
func randomShop(c chooser, drops int, lossless bool) *shop.Collector {
	d := &drawing{chooser: c, lossless: lossless, Collector: &shop.Collector{
		Name: "c", Rating: math.NaN(), Network: &shop.Network{},
		Filter: shop.Filter{CleanDrop: c.float(150, 700), CleanFlow: 0.7, HousingLoss: c.float(0, 60)},
	}}
	top, reach := c.float(1800, 3200), c.float(0.6, 1.4)
	for i := range 11 {
		x := float64(i) / 10
		d.Fan.Points = append(d.Fan.Points, shop.CurvePoint{Flow: x * reach, Pressure: top * (1 - 0.05*x - 0.85*x*x), Power: 1500 + 2500*x})
	}
	d.Fan.Speed = 48
	d.Fan.Position = shop.FanPosition(c.int(0, 1))
	d.Fan.Between = shop.Interpolation(c.int(0, 1))
	if c.int(0, 1) == 1 {
		d.Separator = &shop.Separator{Name: "cyclone", Loss: c.float(100, 500), Flow: 0.6}
		d.Discharge = &shop.Discharge{Diameter: 0.25, Length: c.float(0, 6), Roughness: 9e-5, Loss: 1.2}
	}
	last := d.trunk("main", drops, c.float(0.16, 0.25))
	last.To = shop.End{Kind: shop.EndCollector}
	d.sensors(last.Name)
	return d.Collector
}

// trunk draws a trunk with a number of drops and gives its last run, which leads nowhere yet.
func (d *drawing) trunk(name string, drops int, diameter float64) *shop.Run {
	at := d.drop(name+" 1", diameter)
	for i := 2; i <= drops; i++ {
		var side *shop.Run
		if drops-i > 3 && d.int(0, 4) == 0 {
			n := d.int(2, 3)
			side = d.trunk(fmt.Sprintf("%s side %d", name, i), n, diameter*d.float(0.6, 0.9))
			i += n - 1
		} else {
			side = d.drop(fmt.Sprintf("%s %d", name, i), diameter)
		}
		at = d.joinTo(fmt.Sprintf("%s joint %d", name, i), at, side, diameter)
	}
	return at
}

// joinTo joins a straight and a branch run, and gives the run that carries on.
func (d *drawing) joinTo(name string, straight, branch *shop.Run, diameter float64) *shop.Run {
	j := &shop.Junction{Name: name, Straight: straight.Name, Branch: branch.Name}
	if !d.lossless && d.int(0, 3) > 0 {
		j.Kind, j.Angle = shop.Wye, []float64{30, 45, 60, 90}[d.int(0, 3)]*math.Pi/180
	}
	d.Network.Junctions = append(d.Network.Junctions, j)
	straight.To = shop.End{Kind: shop.EndJunction, Name: name}
	branch.To = straight.To
	return d.run("after "+name, shop.End{Kind: shop.EndJunction, Name: name}, diameter, d.float(0.3, 8))
}

// drop draws one machine's hood, hose, gate and drop.
func (d *drawing) drop(name string, most float64) *shop.Run {
	d.Machines = append(d.Machines, &shop.Machine{Name: name, Needs: 0.2})
	diameter := math.Min(d.float(0.08, 0.16), most)
	hose := d.run("hose "+name, shop.End{Kind: shop.EndMachine, Name: name}, diameter, d.float(0.5, 3))
	hose.Flexible, hose.Stretch, hose.Roughness = true, d.float(1, 3), 1e-3
	hose.Fittings = []shop.Fitting{{Kind: shop.Entry, Entry: shop.EntryKind(d.int(0, 2))}}
	g := &shop.Gate{Name: "gate " + name, Open: 0.05, SeatLeak: d.float(0, 0.004)}
	d.Gates = append(d.Gates, g)
	if d.int(0, 2) == 0 { // all in one run
		hose.Gate = g.Name
		return hose
	}
	r := d.run("drop "+name, shop.End{Kind: shop.EndRun, Name: hose.Name}, diameter, d.float(0.5, 6))
	hose.To = shop.End{Kind: shop.EndRun, Name: r.Name}
	r.Gate = g.Name
	r.Fittings = []shop.Fitting{
		{Kind: shop.Elbow, Angle: math.Pi / 2, RadiusRatio: 1.5},
		{Kind: shop.FixedLoss, Coefficient: d.float(0, 0.5)},
	}
	return r
}

func (d *drawing) run(name string, from shop.End, diameter, length float64) *shop.Run {
	r := &shop.Run{
		Name: name, From: from, Diameter: diameter, Length: length, Roughness: 9e-5, Stretch: 1, Rating: math.NaN(),
		Tightness: shop.Leakage{C: d.float(0, 2.7e-5), N: 0.65},
	}
	d.Network.Runs = append(d.Network.Runs, r)
	return r
}

func (d *drawing) sensors(trunk string) {
	first := d.Network.Runs[0].Name
	d.Sensors = []*shop.Sensor{
		{Name: "filter", Measures: shop.FilterDrop},
		{Name: "trunk", Measures: shop.StaticPressure, Run: trunk},
		{Name: "pitot", Measures: shop.VelocityPressure, Run: trunk},
		{Name: "inlet", Measures: shop.StaticPressure, Run: "inlet"},
		{Name: "fan inlet", Measures: shop.StaticPressure, Run: "fan"},
		{Name: "hood", Measures: shop.StaticPressure, Run: first, TapAt: shop.AtStart},
		{Name: "far", Measures: shop.StaticPressure, Run: d.Network.Runs[1].Name, TapAt: shop.AtEnd},
		{Name: "cyclone", Measures: shop.SeparatorDrop},
		{Name: "power", Measures: shop.FanPower},
		{Name: "speed", Measures: shop.FanSpeed},
		{Name: "air", Measures: shop.AirTemperature},
	}
}

// setting opens the gates whose bit is set.
func setting(c *shop.Collector, bits uint64) shop.Setting {
	s := shop.Setting{Open: map[string]bool{}}
	for i, g := range c.Gates {
		s.Open[g.Name] = bits>>(i%64)&1 == 1
	}
	return s
}

// ring joins two places of the trunk by one more run, which leaves a lossless joint and enters a wye further down or up,
// so that parts of the trunk may run backwards.
func (d *drawing) ring(name string) {
	joints := d.Network.Junctions
	if len(joints) < 2 {
		return
	}
	from := joints[d.int(0, len(joints)-1)]
	from.Kind = shop.Lossless
	into := d.leaves(joints[d.int(0, len(joints)-1)].Name)
	link := d.run(name, shop.End{Kind: shop.EndJunction, Name: from.Name}, d.float(0.1, 0.25), d.float(0, 10))
	wye := &shop.Junction{Name: "joint of " + name, Kind: shop.Wye, Angle: d.float(0.3, math.Pi/2), Straight: into.Name, Branch: link.Name}
	d.Network.Junctions = append(d.Network.Junctions, wye)
	after := d.run("after "+name, shop.End{Kind: shop.EndJunction, Name: wye.Name}, into.Diameter, d.float(0, 5))
	after.To = into.To
	for _, j := range joints { // what the run was to a wye, the run after it is now
		if j.Straight == into.Name {
			j.Straight = after.Name
		}
		if j.Branch == into.Name {
			j.Branch = after.Name
		}
	}
	into.To = shop.End{Kind: shop.EndJunction, Name: wye.Name}
	link.To = into.To
}

// leaves is the run that leaves a junction.
func (d *drawing) leaves(junction string) *shop.Run {
	for _, r := range d.Network.Runs {
		if r.From.Kind == shop.EndJunction && r.From.Name == junction {
			return r
		}
	}
	return nil
}

package bound

import (
	"math"
	"strings"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// noise fills in what each channel scatters by.
func (b *responder) noise(s *Set, res *duct.Result) {
	n := &b.r.Noise
	density := res.State().Air.Density
	for c, ch := range b.r.Channels {
		p := math.Abs(s.Mean[c])
		scatter, zero := 0.0, n.Zero
		switch ch.Measures {
		case shop.StaticPressure, shop.VelocityPressure:
			scatter = math.Hypot(n.StaticFloor, n.StaticShare*density/2*sq(b.velocity(res, ch)))
		case shop.FilterDrop, shop.SeparatorDrop:
			scatter = math.Hypot(n.DropFloor, n.DropShare*p)
		case shop.FanPower:
			scatter, zero = n.Power*p, 0
		case shop.FanSpeed:
			scatter, zero = n.Turns*p, 0
		}
		s.Scatter = append(s.Scatter, scatter/p)
		s.Zero = append(s.Zero, zero/p)
	}
}

// velocity is the air's at a tap, that of the last run where the tap is at the collector.
func (b *responder) velocity(res *duct.Result, ch Channel) float64 {
	run := b.c.Sensor(strings.TrimPrefix(ch.Name, b.c.Name+"/")).Run
	last := 0.0
	for i, r := range b.c.Network.Runs {
		if r.Name == run {
			return res.Runs[i].Velocity
		}
		if r.To.Kind == shop.EndCollector {
			last = res.Runs[i].Velocity
		}
	}
	return last
}

package plant

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// collector adds the separator, the filter, the fan and the discharge, in the order in which the air meets them.
func (b *builder) collector() {
	n := b.n
	part := func(kind, from, to int) int {
		n.segments = append(n.segments, segment{kind: kind, from: from, to: to, run: -1, gate: -1, selector: -1, wye: -1,
			factor: 1, hoodDrop: 1, leak: leak{exponent: 0.5}, seat: leak{exponent: 0.5}})
		return len(n.segments) - 1
	}
	at := n.inlet
	if b.c.Separator != nil {
		next := b.node("separator outlet")
		n.sep = part(separatorSegment, at, next)
		at = next
	}
	n.middle = at
	out := room
	if b.c.Discharge != nil {
		out = b.node("discharge")
	}
	n.clean = b.node("between filter and fan")
	if b.c.Fan.Position == shop.FanBeforeFilter {
		n.fan = part(fanSegment, at, n.clean)
		n.filter = part(filterSegment, n.clean, out)
	} else {
		n.filter = part(filterSegment, at, n.clean)
		n.fan = part(fanSegment, n.clean, out)
	}
	if d := b.c.Discharge; d != nil {
		i := part(dischargeSegment, out, room)
		e := &n.segments[i]
		e.diameter, e.area = d.Diameter, math.Pi/4*d.Diameter*d.Diameter
		e.reach, e.coefficient = d.Length, d.Loss
		e.rough = math.Pow(math.Max(0, d.Roughness)/d.Diameter/3.7, 1.11)
	}
}

// check refuses a network that is not one piece.
func (b *builder) check() error {
	n := b.n
	if n.inflow == 0 {
		return fmt.Errorf("collector %q: no run ends at the collector", b.c.Name)
	}
	for i, name := range n.names {
		in, out := 0, 0
		for _, e := range n.segments {
			if e.to == i {
				in++
			}
			if e.from == i {
				out++
			}
		}
		if out == 0 {
			return fmt.Errorf("collector %q: air that reaches the %s cannot leave it", b.c.Name, name)
		}
		if in+out < 2 && !isStub(name) {
			return fmt.Errorf("collector %q: nothing flows into the %s", b.c.Name, name)
		}
	}
	return nil
}

// isStub tells whether a node may have nothing upstream: the start of a run, whose far end is capped.
func isStub(name string) bool { return len(name) > 5 && name[:5] == "start" }

// filterLaw is the filter as built: a viscous part and a housing part, and perhaps a hole beside the first.
type filterLaw struct {
	hole    float64 // m³/s of standard air at 1500 Pa
	viscous float64 // Pa/(m³/s), clean, in standard air
	housing float64 // Pa/(m³/s)² at the reference density
}

// newFilter takes the filter from its description.
func newFilter(f *shop.Filter) filterLaw {
	housing := math.Max(0, f.HousingLoss)
	if math.IsNaN(housing) {
		housing = 0
	}
	return filterLaw{
		viscous: (f.CleanDrop - housing) / f.CleanFlow,
		housing: housing / (f.CleanFlow * f.CleanFlow),
	}
}

// drop returns the filter's drop in Pa and its slope at flow q; ratio is the medium's resistance against clean.
func (f *filterLaw) drop(q, ratio, rho, mu float64) (dp, slope float64) {
	r := f.viscous * ratio * mu / standard.viscosity()
	h := f.housing * rho / referenceDensity
	medium, steep := beside(q, r, f.hole/math.Sqrt(1500*rho/referenceDensity))
	return medium + h*q*math.Abs(q), steep + 2*h*math.Abs(q)
}

// beside returns the drop of a medium of resistance r, and its slope, where k·√Δp takes the hole beside it: by halving what the drop
// may be, since it is below that of the whole medium.
func beside(q, r, k float64) (dp, slope float64) {
	if k == 0 || q == 0 {
		return r * q, r
	}
	low, high := 0.0, r*math.Abs(q)
	for range 80 {
		if mid := (low + high) / 2; mid/r+k*math.Sqrt(mid) < math.Abs(q) {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Copysign(low, q), 1 / (1/r + k/(2*math.Sqrt(max(low, 1e-12))))
}

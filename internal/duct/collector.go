package duct

import (
	"fmt"

	"ductward/internal/air"
	"ductward/internal/shop"
)

// collector is everything from the ducts' inlet to the room: separator, filter and fan in either order, discharge.
type collector struct {
	fan       *fanCurve
	filter    filter
	separator float64 // Pa at 1 m³/s and 1 kg/m³, on ρQ²
	discharge pipe
	position  shop.FanPosition
}

// filter is Δp = viscous·ratio·(μ/μ0)·Q + housing·ρ·Q|Q|.
type filter struct {
	viscous   float64 // Pa s/m³ at the viscosity of the reference air, just cleaned
	housing   float64 // Pa at 1 m³/s and 1 kg/m³
	viscosity float64 // Pa s, μ0
}

func newCollector(c *shop.Collector) (*collector, error) {
	fan, err := newFanCurve(c.Fan)
	if err != nil {
		return nil, err
	}
	out := &collector{fan: fan, position: c.Fan.Position}
	if out.filter, err = newFilter(c.Filter); err != nil {
		return nil, err
	}
	fan.throttleAt(c.Filter.CleanFlow)
	if s := c.Separator; s != nil {
		density := s.Density
		if !(density > 0) {
			density = 1.2
		}
		if !(s.Flow > 0) || !(s.Loss >= 0) {
			return nil, fmt.Errorf("separator %q: loss %g Pa at %g m³/s; both must be positive", s.Name, s.Loss, s.Flow)
		}
		out.separator = s.Loss / (density * s.Flow * s.Flow)
	}
	if d := c.Discharge; d != nil {
		if !(d.Diameter > 0) {
			return nil, fmt.Errorf("discharge: diameter %g m must be positive", d.Diameter)
		}
		out.discharge = newPipe(d.Diameter, d.Length, d.Roughness, 1)
		out.discharge.rest = d.Loss
	}
	return out, nil
}

func newFilter(f shop.Filter) (filter, error) {
	if !(f.CleanFlow > 0) || !(f.CleanDrop > 0) {
		return filter{}, fmt.Errorf("filter: clean drop %g Pa at %g m³/s; both must be positive", f.CleanDrop, f.CleanFlow)
	}
	housing := f.HousingLoss
	if !(housing >= 0) {
		housing = 0
	}
	if housing >= f.CleanDrop {
		return filter{}, fmt.Errorf("filter: housing loss %g Pa is a part of the clean drop and must be below its %g Pa", housing, f.CleanDrop)
	}
	ref := air.Reference()
	return filter{
		viscous:   (f.CleanDrop - housing) / f.CleanFlow,
		housing:   housing / (ref.Density * f.CleanFlow * f.CleanFlow),
		viscosity: ref.Viscosity,
	}, nil
}

// chain is what the parts of the collector do at one flow (Pa), with the sum of losses less the fan's rise.
type chain struct {
	separator, separatorSlope float64
	viscous, viscousSlope     float64 // the filter's two parts
	housing, housingSlope     float64
	discharge, dischargeSlope float64
	rise, riseSlope           float64
	friction                  point // of the discharge
}

func (c *chain) filter() float64      { return c.viscous + c.housing }
func (c *chain) filterSlope() float64 { return c.viscousSlope + c.housingSlope }

// loss from the inlet to the room: what the room must be above the inlet's pressure for the flow to stand.
func (c *chain) loss() (loss, slope float64) {
	return c.separator + c.filter() + c.discharge - c.rise,
		c.separatorSlope + c.filterSlope() + c.dischargeSlope - c.riseSlope
}

// at gives the parts at a flow (m³/s); friction is that of the discharge from an earlier call.
func (c *collector) at(q float64, s *scene, friction point) chain {
	density := s.air.Density
	square := signedSquare(q)
	viscous := c.filter.viscous * s.filter * s.air.Viscosity / c.filter.viscosity
	out := chain{
		separator: c.separator * density * square, separatorSlope: 2 * c.separator * density * abs(q),
		viscous: viscous * q, viscousSlope: viscous,
		housing: c.filter.housing * density * square, housingSlope: 2 * c.filter.housing * density * abs(q),
		friction: friction,
	}
	if c.discharge.area > 0 {
		out.discharge, out.dischargeSlope = c.discharge.loss(q, s, &out.friction)
	}
	out.rise, out.riseSlope = c.fan.moved(q, density, s.speed)
	throttled := (1 - s.throttle) * c.fan.shut * density
	out.rise = s.fan * (out.rise - throttled*square)
	out.riseSlope = s.fan * (out.riseSlope - 2*throttled*abs(q))
	if s.held {
		out.rise, out.riseSlope = s.hold(q)
	}
	return out
}

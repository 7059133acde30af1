package duct

import (
	"fmt"
	"math"

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

// filter is Δp = Δm + housing·ρ·Q|Q|, with Δm of the medium: Q = Δm/(viscous·ratio·(μ/μ0)) + what passes it through a hole, which goes
// with √Δm as through any sharp edge (ISO 5167-1:2003, 5.1, has the form from memory).
type filter struct {
	viscous     float64 // Pa s/m³ at the viscosity of the reference air, just cleaned
	housing     float64 // Pa at 1 m³/s and 1 kg/m³
	housingUnit float64 // the same of 1 Pa at the clean flow of the reference air
	viscosity   float64 // Pa s, μ0
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
	unit := 1 / (ref.Density * f.CleanFlow * f.CleanFlow)
	return filter{
		viscous:     (f.CleanDrop - housing) / f.CleanFlow,
		housing:     housing * unit,
		housingUnit: unit,
		viscosity:   ref.Viscosity,
	}, nil
}

// chain is what the parts of the collector do at one flow (Pa), with the sum of losses less the fan's rise.
type chain struct {
	separator, separatorSlope float64
	viscous, viscousSlope     float64 // the filter's two parts
	housing, housingSlope     float64
	byHousing                 float64 // of housing, by 1 Pa at the filter's clean flow
	byRatio, byPast           float64 // of viscous, by the logarithm of the medium's ratio and by what passes it, at one flow
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
	housing := c.filter.housing + s.housing
	out := chain{
		separator: c.separator * density * square, separatorSlope: 2 * c.separator * density * abs(q),
		housing: housing * density * square, housingSlope: 2 * housing * density * abs(q),
		byHousing: c.filter.housingUnit * density * square,
		friction:  friction,
	}
	out.medium(q, c.filter.viscous*s.filter*s.air.Viscosity/c.filter.viscosity, s.past, s.pastUnit)
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

// medium sets what the filter's medium does at a flow, with its resistance (Pa s/m³) and a hole through which past·√Δm goes beside
// it; unit is what past is of one m³/s at the reference suction. With s = √Δm the flow is s²/resistance + past·s.
func (c *chain) medium(q, resistance, past, unit float64) {
	if past == 0 {
		c.viscous, c.viscousSlope, c.byRatio = resistance*q, resistance, resistance*q
		c.byPast = -math.Copysign(math.Sqrt(abs(c.viscous)), q) * resistance * unit
		return
	}
	// of the two forms of the root this one loses no digits
	s := 2 * abs(q) / (past + math.Sqrt(past*past+4*abs(q)/resistance))
	slope := 2 * s * resistance / (2*s + past*resistance)
	c.viscous, c.viscousSlope = math.Copysign(s*s, q), slope
	c.byRatio = c.viscous / resistance * slope
	c.byPast = -math.Copysign(s, q) * slope * unit
}

package estimate

import (
	"math"

	"ductward/internal/detect"
	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// lump is a collector without a drawing: all ducts are one run of unknown loss. Two readings, filter drop and trunk
// static, then give the filter's resistance and the flow on the fan's curve; with known gates a stretch with all of
// them shut gives the leakage.
type lump struct {
	model               *duct.Model `checkpoint:"-"`
	diameter, cleanFlow float64     // m of the trunk, and m³/s of the filter
	viscous             float64     // Pa s/m³ of the clean filter
	drop                int         // index of the filter drop among the model's sensors
	static              int         // and of the static pressure
	dropCh              string
	statCh              string
	velocityCh          string  // "": no velocity is measured at the collector
	area                float64 // m² there
	most                float64 // Pa that the fan makes with next to no air, by its curve

	learnt
	days     []detect.Information
	at       []int   // day index of each
	leakDays []Value // what each of these says of the new leakage
}

// learnt is what its baseline taught.
type learnt struct {
	fan                  Value   // log of the speed at which the fan does as it does, over that of its curve: see learnFan
	byFan                float64 // by it, of the log of the resistance of the baseline's runs on the mean
	still                Value   // that log as the gate-shut stretches have it, see fanAtRest; SE 0: there was none yet
	shut                 float64 // m³/s: with less, every gate is shut, where nothing tells the gates; see learnShut
	leastDrop, leastPull float64 // Pa: of the baseline's runs with a gate open, the drop over the clean resistance, and the suction
	leakBase             Value   // leakage in the baseline's gate-shut stretches, m³/s at the reference suction; SE 0: it had none
}

// forget lets go of what was learnt and of the days since.
func (l *lump) forget() { l.learnt, l.days, l.at, l.leakDays = learnt{}, nil, nil, nil }

const lumpRun = "ducts"

// newLump builds the lumped model; nil where one of the two sensors is missing or the fan's curve is.
func newLump(c *shop.Collector) *lump {
	var drop, static *shop.Sensor
	for _, s := range c.Sensors {
		switch {
		case s.Measures == shop.FilterDrop && drop == nil:
			drop = s
		case s.Measures == shop.StaticPressure && static == nil && s.Run != "fan":
			static = s
		}
	}
	if drop == nil || static == nil {
		return nil
	}
	stated := tapDiameter(c, static)
	d := stated
	if !(d > 0) {
		d = math.Sqrt(4 * c.Filter.CleanFlow / (math.Pi * 20)) // a trunk sized for 20 m/s at the filter's clean flow
	}
	tap := *static
	tap.Run = "inlet"
	copied := &shop.Collector{
		Name: c.Name, Fan: c.Fan, Separator: c.Separator, Filter: c.Filter, Discharge: c.Discharge,
		Rating: math.NaN(), Alarms: c.Alarms, Transport: c.Transport,
		Machines: []*shop.Machine{{Name: "shop", Needs: math.NaN()}},
		Network: &shop.Network{Runs: []*shop.Run{{
			Name: lumpRun, From: shop.End{Kind: shop.EndMachine, Name: "shop"}, To: shop.End{Kind: shop.EndCollector},
			Diameter: d, Length: 10, Roughness: 9e-5, Stretch: 1,
			Fittings:  []shop.Fitting{{Kind: shop.FixedLoss, Coefficient: 3}},
			Tightness: shop.Leakage{N: 0.65}, Rating: math.NaN(),
		}}},
		Sensors: []*shop.Sensor{drop, &tap},
	}
	m, err := duct.New(copied)
	if err != nil {
		return nil
	}
	l := &lump{model: m, diameter: d, cleanFlow: c.Filter.CleanFlow, viscous: (c.Filter.CleanDrop - c.Filter.HousingLoss) / c.Filter.CleanFlow, drop: -1, static: -1, dropCh: c.Name + "/" + drop.Name, statCh: c.Name + "/" + static.Name}
	for _, s := range c.Sensors {
		if s.Measures == shop.VelocityPressure && s.Run == static.Run && stated > 0 && l.velocityCh == "" {
			l.velocityCh, l.area = c.Name+"/"+s.Name, math.Pi/4*stated*stated
		}
	}
	for i, ch := range m.SensorChannels() {
		switch ch {
		case l.dropCh:
			l.drop = i
		case l.statCh:
			l.static = i
		}
	}
	if l.drop < 0 || l.static < 0 {
		return nil
	}
	res, err := m.Solve(duct.State{FilterRatio: 1, LossFactor: math.Exp(2 * mostAssumed), FanSpeed: 1})
	if err != nil {
		return nil
	}
	l.most = res.Sensors[l.drop].Value - res.Sensors[l.static].Value
	return l
}

// tapDiameter returns the diameter of the trunk where its suction is read, in m: as stated there or at the tap for the velocity; 0: not
// stated.
func tapDiameter(c *shop.Collector, static *shop.Sensor) float64 {
	if static.Diameter > 0 {
		return static.Diameter
	}
	for _, s := range c.Sensors {
		if s.Measures == shop.VelocityPressure && s.Run == static.Run {
			return s.Diameter
		}
	}
	return 0
}

// fit finds the log resistance and the flow that the two readings of a run ask for, with their errors, and by how much that log is
// more for the log of the fan's speed.
func (l *lump) fit(e *Estimator, r *steady.Run, guess float64) (filter, flow Value, byFan float64, ok bool) {
	d, s := channelOf(r, l.dropCh), channelOf(r, l.statCh)
	if d == nil || s == nil || d.Mean < 5 || s.Mean > -5 || math.IsNaN(d.SE) || math.IsNaN(s.SE) {
		return filter, flow, 0, false
	}
	x := [2]float64{guess, 0}
	params := []duct.Param{{Kind: duct.LogFilter}, {Kind: duct.LogLoss}, {Kind: duct.LogFanSpeed}}
	var from *duct.Result
	for range 40 {
		st := duct.State{Air: e.airOf(r), FilterRatio: math.Exp(x[0]), LossFactor: math.Exp(x[1]), FanSpeed: math.Exp(l.fan.V)}
		res, err := l.solve(st, from)
		if err != nil {
			return filter, flow, 0, false
		}
		from = res
		sens, err := l.model.Sensitivity(res, params)
		if err != nil {
			return filter, flow, 0, false
		}
		pd, ps := res.Sensors[l.drop].Value, res.Sensors[l.static].Value
		// in logs the two laws are nearly straight
		a, b := sens[l.drop][0]/pd, sens[l.drop][1]/pd
		c, g := sens[l.static][0]/ps, sens[l.static][1]/ps
		yd, ys := math.Log(d.Mean/pd), math.Log(s.Mean/ps)
		det := a*g - b*c
		if math.Abs(det) < 1e-9 {
			return filter, flow, 0, false
		}
		step := [2]float64{(g*yd - b*ys) / det, (a*ys - c*yd) / det}
		if math.Abs(step[0]) < 1e-7 && math.Abs(step[1]) < 1e-7 {
			sd := math.Hypot(math.Hypot(d.SE, e.zeroError(d))/d.Mean, modelFloor)
			ss := math.Hypot(math.Hypot(s.SE, e.zeroError(s))/s.Mean, modelFloor)
			fd, fs := sens[l.drop][2]/pd, sens[l.static][2]/ps
			byFan := -(g*fd - b*fs) / det
			variance := math.Pow(g/det*sd, 2) + math.Pow(b/det*ss, 2) + math.Pow(byFan*speedJitter, 2)
			flowSE := math.Hypot(gainPrior, 0.05) * res.FanFlow
			return Value{x[0], math.Sqrt(variance)}, Value{res.FanFlow, flowSE}, byFan, true
		}
		x[0] += min(max(step[0], -1), 1)
		x[1] += min(max(step[1], -1.5), 1.5)
		if math.Abs(x[0]) > 5 || math.Abs(x[1]) > 9 {
			return filter, flow, 0, false
		}
	}
	return filter, flow, 0, false
}

func (l *lump) solve(st duct.State, from *duct.Result) (*duct.Result, error) {
	if from != nil {
		if res, err := l.model.Warm(st, from); err == nil {
			return res, nil
		}
	}
	return l.model.Solve(st)
}

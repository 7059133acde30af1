package estimate

import (
	"math"
	"slices"

	"ductward/internal/shop"
)

// meter is how well the readings of one channel are known, by what it measures, all relative; its zero is in zeroError.
type meter struct {
	fan   bool    // it reads the fan itself and has no tap in the air
	run   float64 // of a run's mean: what no other error accounts for
	day   float64 // of all its readings from day to day
	air   float64 // the same by the weather, which lasts for days: see byMass
	gain  float64 // of its scale, constant
	slope float64 // of how it goes with the flow, where that is not the square: a share
	set   float64 // of its ratio in one gate set against the calibrated model
	fresh float64 // the least of a gate set that was never seen
}

// What the meters of the fan are off by. A motor's losses move with its warmth and the mains, and a fan's power curve is
// flat: a change of flow by a tenth is some four hundredths of the power, so that power says little about small leaks. A
// count of turns is exact; what it is off by is how it is read out, and the motor's slip, which goes with the load and so
// with the gates (all common practice, no source).
const (
	powerRun, powerDay, powerGain    = 0.005, 0.01, 0.10
	powerSlope                       = 0.25 // of a printed curve, and of the motor's efficiency by load
	turnsDay, turnsGain              = 0.0003, 0.02
	turnsSet, turnsFresh, freshLeast = 0.01, 0.003, 0.015
)

// meterOf returns how well a quantity is known, false for one that the estimate does not weigh.
func meterOf(q shop.Quantity) (meter, bool) {
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
		return meter{run: modelFloor, day: dayError, gain: gainPrior, set: biasPrior, fresh: freshLeast}, true
	case shop.FanPower:
		return meter{fan: true, run: powerRun, day: powerDay, gain: powerGain, slope: powerSlope, set: biasPrior, fresh: freshLeast}, true
	case shop.FanSpeed:
		return meter{fan: true, run: modelFloor, day: turnsDay, gain: turnsGain, set: turnsSet, fresh: turnsFresh}, true
	}
	return meter{}, false
}

// metered tells whether the fan's power or speed is read.
func (k *columns) metered() bool {
	for _, m := range k.meters {
		if m.fan {
			return true
		}
	}
	return false
}

// byMass widens a channel whose part feels the mass of the moving air and not its pressure, in a shop without a barometer: the weather
// moves what it reads, and no other sensor, by as much as the ambient pressure (Sensirion, SDP8xx datasheet, on its differential
// pressure mode, which is corrected by the ambient pressure, from memory).
func (m *meter) byMass(c *shop.Collector, s *shop.Sensor) {
	chip := shop.ChipOf(s.From.Chip)
	read := slices.ContainsFunc(c.Sensors, func(o *shop.Sensor) bool { return o.Measures == shop.BarometricPressure })
	if chip != nil && chip.ByMass && !read {
		m.air = unknownWeather
	}
}

// daily is the standard deviation of a channel's own error in the mean of n days times √n; n = 0 of many.
func (m *meter) daily(n int) float64 {
	return math.Hypot(m.day*math.Sqrt(spanFactor(n, errorCorrelation)), m.air*math.Sqrt(spanFactor(n, weatherCorrelation)))
}

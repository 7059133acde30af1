package bound

import (
	"math"

	"ductward/internal/shop"
)

// Noise is how far readings and plant are from what is expected of them, as standard deviations; relative ones are of the
// natural logarithm.
type Noise struct {
	StaticFloor, StaticShare float64 // turbulence at a tap in a duct: Pa, and the share of the velocity pressure there
	DropFloor, DropShare     float64 // of the drop of filter or separator: Pa, and the share of the drop
	Correlation              float64 // s, correlation time of turbulence
	Floor                    float64 // relative, of each reading in a run: what nothing else accounts for
	Zero                     float64 // Pa, of a sensor's zero on a day
	Gain                     float64 // constant, of each sensor

	Hood                float64 // of a drop's loss in one use
	Day, DayCorrelation float64 // of each pressure from day to day, and from one working day to the next
	SpeedDay, SpeedRun  float64 // of the fan's speed in a day, and within one
	SpeedTime           float64 // s, correlation time of the latter; 0: each run has its own

	Temperature, Barometer, Humidity float64 // of the density while they are not measured
	Measured                         float64 // of the density while temperature and barometer are
	AirCorrelation                   float64 // of what is not measured, from one working day to the next

	Slope     float64 // of the filter's log resistance, an hour
	SetBias   float64 // of one channel in one set, which no other shares
	Built     float64 // of each run's loss against the drawing
	Loss      float64 // of all losses together
	Leakage   float64 // of all leakage as designed together
	FanCurve  float64 // of the fan's pressure rise
	Exponent  float64 // of a leak, absolute
	Power     float64 // of fan power from sample to sample
	PowerDay  float64 // of it from day to day: the mains, the motor's warmth
	Turns     float64 // of fan speed from day to day: what a count of turns is off by
	DropDrift float64 // of each drop's loss since the baseline, while something else is asked for
}

// UsualNoise returns the figures that the watch begins with (internal/estimate) and the trials are run with: a shop of
// ordinary care. They are common practice, no source, but where a comment says otherwise.
func UsualNoise() Noise {
	return Noise{
		StaticFloor: 2, StaticShare: 0.06, DropFloor: 0.8, DropShare: 0.01, Correlation: 4.5, Floor: 0.0015, Zero: 0.4, Gain: 0.03,
		Hood: 0.03, Day: 0.003, DayCorrelation: 0.5, SpeedDay: 0.001, SpeedRun: 0.002, SpeedTime: 900,
		Temperature: 0.02, Barometer: 0.009, Humidity: 0.002, Measured: 0.004, AirCorrelation: 0.75,
		Slope: 0.01, SetBias: 0.02, Built: 0.10, Loss: 0.20, Leakage: 0.80, FanCurve: 0.025, Exponent: 0.05,
		Power: 0.02, PowerDay: 0.01, Turns: 0.0003, DropDrift: 0.02,
	}
}

// density returns the standard deviation of the log density that is not known on a day, and its correlation.
func (n *Noise) density(measured map[shop.Quantity]bool) (sd, correlation float64) {
	open := n.Humidity
	if !measured[shop.AirTemperature] {
		open = math.Hypot(open, n.Temperature)
	}
	if !measured[shop.BarometricPressure] {
		open = math.Hypot(open, n.Barometer)
	}
	if measured[shop.AirTemperature] && measured[shop.BarometricPressure] {
		return n.Measured, 0
	}
	return math.Hypot(open, n.Measured), n.AirCorrelation
}

// scale returns the standard deviation of the log of all flows: the fan's curve, and half the gain of a sensor that goes
// with the square of a flow.
func (n *Noise) scale(channels []Channel) float64 {
	info := 1 / sq(n.FanCurve)
	for _, c := range channels {
		if c.Measures == shop.VelocityPressure || c.Measures == shop.SeparatorDrop {
			info += 1 / sq(n.Gain/2)
		}
	}
	return 1 / math.Sqrt(info)
}

// effective returns by how much the mean over a time is steadier than one sample, as a factor on the variance.
//
//	2·τ/T for T ≫ τ; never more than 1
func (n *Noise) effective(seconds float64) float64 {
	return min(1, 2*n.Correlation/seconds)
}

func sq(x float64) float64 { return x * x }

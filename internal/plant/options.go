package plant

// Options say how far the plant is from its drawing and how its sensors behave. A zero is a zero: start from
// DefaultOptions, or from Exact for a plant that is as drawn and sensors that are perfect.
type Options struct {
	Seed uint64

	AsBuilt   float64 // s.d. of the logarithm of each run's fitting losses and lengths against the drawing
	FanBuilt  float64 // s.d. of the fan curve's height and tilt, relative
	LeakBuilt float64 // s.d. of the logarithm of each run's and each seat's leakage against the drawing
	LeakScale float64 // s.d. of the logarithm of one factor on all leakage

	HoodJitter  float64 // s.d. of the logarithm of a hood's and hose's loss, drawn at each use
	HoodDaily   bool    // drawn at the first use of a day alone: a guard, or a hose that lies as it was thrown in the morning
	HoodStir    float64 // s.d. of the logarithm of the same within a use, drawn whenever a gate is moved
	HoodCreep   float64 // s.d. of the logarithm of how far the same walks from day to day, for good
	DayError    float64 // s.d. of each pressure's unexplained error from day to day, relative
	DayAR       float64 // correlation of DayError from one day to the next
	FanDay      float64 // s.d. of the fan's speed from day to day, relative
	FanWander   float64 // s.d. of the fan's speed within a day, relative
	WanderTime  float64 // s, correlation time of FanWander
	Gain        float64 // s.d. of each sensor's constant gain error, relative
	ZeroStart   float64 // Pa, s.d. of each sensor's zero on the first day
	ZeroDay     float64 // Pa, s.d. of the zero's step from one day to the next
	StaticNoise float64 // Pa, s.d. of turbulence at a static or velocity tap, beside the share of velocity pressure
	StaticShare float64 // share of the velocity pressure at the tap
	FilterNoise float64 // Pa, s.d. of turbulence of the filter drop and separator drop, beside the share of the drop
	FilterShare float64 // share of the drop
	StillNoise  float64 // Pa, s.d. with the fan off
	PowerNoise  float64 // s.d. of the fan's power from sample to sample, relative
	PowerDay    float64 // s.d. of its unexplained error from day to day, relative: the mains, the motor's warmth
	PowerGain   float64 // s.d. of its constant error, relative
	TurnsGain   float64 // s.d. of the constant error of the fan's counted speed, relative
	// NoiseTime is the range from which each tap's correlation time of turbulence is drawn, s.
	NoiseTime [2]float64
}

// DefaultOptions returns the noise that the project's aims assume (DEVELOPERS.md) for a shop of ordinary care, with
// the given seed.
func DefaultOptions(seed uint64) Options {
	return Options{
		Seed:    seed,
		AsBuilt: 0.10, FanBuilt: 0.025, LeakBuilt: 0.3, LeakScale: 0.35,
		HoodJitter: 0.03,
		DayError:   0.003, DayAR: 0.5,
		FanDay: 0.001, FanWander: 0.002, WanderTime: 900,
		Gain:      0.03,
		ZeroStart: 3, ZeroDay: 0.4,
		StaticNoise: 2, StaticShare: 0.06,
		FilterNoise: 0.8, FilterShare: 0.01,
		StillNoise: 0.2,
		PowerNoise: 0.02, PowerDay: 0.006, PowerGain: 0.05, TurnsGain: 0.01,
		NoiseTime: [2]float64{3, 6},
	}
}

// Exact returns options for a plant that is built as drawn and sensors without any error.
func Exact() Options { return Options{WanderTime: 900, NoiseTime: [2]float64{3, 6}} }

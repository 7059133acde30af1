package duct

// Result is one solved state. Its slices have a fixed order, that of the shop file.
type Result struct {
	Converged     bool    // always true in a result that is given out
	Iterations    int     // Newton steps
	WorstResidual float64 // m³/s, the largest imbalance of a node
	WorstAt       string  // the node that has it

	FanFlow       float64 // m³/s
	FanRise       float64 // Pa, total pressure
	FanPower      float64 // W at the shaft; NaN: the curve does not say
	SpeedRatio    float64 // fan speed over that of the curve
	FilterDrop    float64 // Pa, dirty minus clean, positive
	SeparatorLoss float64 // Pa
	InletStatic   float64 // Pa gauge at the collector's inlet

	Machines []MachineFlow
	Runs     []RunFlow
	Leaks    []LeakFlow
	Sensors  []SensorValue
	Warnings []string

	state solved
}

// MachineFlow is the air that enters at one machine's hood.
type MachineFlow struct {
	Name  string
	Open  bool    // joined to the collector, every gate on the way open
	Flow  float64 // m³/s into the hood
	Needs float64 // m³/s; NaN: not stated
}

// RunFlow is the air in one run.
type RunFlow struct {
	Name        string
	Flow        float64 // m³/s at its end towards the collector
	Velocity    float64 // m/s there
	Loss        float64 // Pa of total pressure from its start to its end, a wye's not included
	StaticStart float64 // Pa gauge; behind the hood and behind the gate where the run begins with them
	StaticEnd   float64 // Pa gauge
}

// LeakFlow is the air that enters at one part (for a seat: that passes it).
type LeakFlow struct {
	Part string
	Flow float64 // m³/s
}

// SensorValue is what one channel should read.
type SensorValue struct {
	Channel string
	Value   float64
	Unit    string // SI: "Pa", "K", "W", "Hz", "1"
}

// solved is what a result remembers of the solve, for a warm start and for sensitivities. It is never changed.
type solved struct {
	model    *Model
	st       State
	flow     []float64 // m³/s by edge
	pressure []float64 // Pa by node
	friction []point   // by edge
}

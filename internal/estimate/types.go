package estimate

import (
	"time"

	"ductward/internal/finding"
)

// Value is a number with its standard error. An unknown number is NaN in both.
type Value struct {
	V  float64
	SE float64
}

// Day is the estimate for one day's fan sessions.
type Day struct {
	Date         string  // civil label "2006-01-02"; "" while the clock is not trusted
	FanHours     float64 // hours
	Runs         int     // runs that were used
	ClosedChecks int     // of them with every gate shut
	Guessed      int     // of them with gates that are told by the pressures alone, see Guess
	Unsure       int     // runs that were not used because their gates are not known surely

	FilterRatio Value // filter resistance over its baseline, corrected for flow and viscosity
	Leakage     Value // m³/s at the reference suction, new since the baseline
	FanRatio    Value // fan speed over its baseline
	Flow        Value // m³/s, mean flow through the fan while it ran with a gate open
	Blockage    []Blockage
	Zones       []Zone
	Due         *Due    // nil: no forecast yet
	Innovation  float64 // weighted residual per degree of freedom, 1 where the errors are as stated; NaN if none
	Baseline    int     // version that it is judged by; 0: none
}

// Blockage is the loss of one machine's drop over its baseline.
type Blockage struct {
	Machine string
	Factor  Value
}

// Zone is one place where the new leakage may be.
type Zone struct {
	finding.Place
	Leakage Value // m³/s at the reference suction if it is there
}

// Due says when the filter must be cleaned, and why.
type Due struct {
	Date, Low, High time.Time
	Confidence      float64 // of [Low, High]
	Reason          string  // "filter-limit" or "air-short:MACHINE"
	Ratio           float64 // filter resistance ratio at which it is due, for that reason; 0: not told
}

// Baseline is the state that everything new is compared with.
type Baseline struct {
	From, To  time.Time
	Version   int
	GateSets  int
	MisfitRMS float64 // of log(read/expected) over gate sets and sensors, after calibration
	Complete  bool    // enough of it to compare with
	Lacks     string  // what is still missing, in words; "" when complete
	LeftOut   int     // runs that are not in it, since they read as with another gate open than they are told

	Sets     []SetFit  // how far each gate set lies from the calibrated model; nil where there is no drawing
	Versions []Version // all that there have been, oldest first
	Asked    Change    // what is to become of it when the day's work is over

	// Of the one in the making, or the one that is asked for.
	Days, DaysNeeded int
	Runs, RunsNeeded int    // steady runs
	Walk             []Step // of a walk through the gates; nil where there is no drawing
}

// Now is the estimate for the run that goes on.
type Now struct {
	At       time.Time
	FanOn    bool
	Open     []string
	Set      string        // names gates and selectors as they stand, as Step does; "": not known
	Sure     float64       // probability of Open: 1 where switches or hands tell it; below 0.95 nothing is drawn from it; NaN: nothing tells
	Settled  bool          // the transient is over
	Stands   time.Duration // how long fan and gates have been as they are, at least
	Flow     Value         // m³/s through the fan
	Filter   Value         // resistance ratio
	Leakage  Value         // m³/s at the reference suction
	Machines []MachineAir
	Runs     []RunAir
}

// MachineAir is the air at one machine against what it needs.
type MachineAir struct {
	Machine string
	Open    bool
	Flow    Value   // m³/s
	Needs   float64 // m³/s; NaN: not stated
}

// RunAir is the air in one run of duct.
type RunAir struct {
	Run      string
	Flow     float64 // m³/s
	Velocity float64 // m/s
	Static   float64 // Pa gauge at its end towards the collector; NaN: not known
	Settles  bool    // used, and below what carries dust
}

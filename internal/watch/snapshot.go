package watch

import (
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
)

// Snapshot is what the watch knows at one moment. It is never changed after it has been handed out.
type Snapshot struct {
	Shop             string
	ReferenceSuction float64 // Pa
	Collectors       []Collector
}

// Collector is what the watch knows of one collector.
type Collector struct {
	Name     string
	Baseline estimate.Baseline
	Now      estimate.Now
	Days     []estimate.Day    // oldest first; the last one may still go on
	Guesses  []estimate.Guess  // of the gates of runs in which some position is not known, oldest first; those of some months
	Findings []finding.Finding // oldest first, active and ended
	Sensors  []Sensor
	Lacks    []string           // what cannot be told, and what would tell it
	NextTest *estimate.NextTest // what would tell most of where the latest change is; nil: nothing is to be told apart
	Checks   []estimate.Check   // that the shop is asked for regularly, due or not
	Hunting  bool               // a leak hunt goes on
	Standing time.Duration      // for how long the air has been steady with the gates as they are
	Promise  *estimate.Promise  // how few false alarms are kept; nil: without a drawing nothing is searched for
}

// Sensor is the health of one sensor as its readings show it.
type Sensor struct {
	Channel string
	Value   float64   // last, SI, zero-corrected; NaN: none
	At      time.Time // civil; zero: never
	Noise   float64   // standard deviation of single samples in the last steady run; NaN: not known
	Zero    float64   // last zero; NaN: never taken
	ZeroAt  time.Time
	Fault   string // "" when sound, else in words
	Since   time.Time
}

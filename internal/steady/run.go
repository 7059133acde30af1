package steady

import "time"

// Kind says what a run of unchanged gates is good for.
type Kind uint8

// The kinds of run.
const (
	Running Kind = iota // fan on, at least one gate open
	Closed              // fan on, every machine shut off by a gate: all flow is leakage
	Zero                // fan off and run down: every pressure sensor should read nothing
	Unknown             // fan on, position of some gate not known
	Contact             // no stretch: a contact or scale has come to stand otherwise; Channels holds it alone, as read
)

// Run is one stretch with the fan and every gate unchanged, its transient dropped: one observation for the estimate.
// It is small and kept for good. A run of kind Contact is no stretch of steady air: from Start a contact has stood as
// Channels has it, and at End that was told.
type Run struct {
	Collector  string
	Kind       Kind
	Boot       uint32
	Start, End time.Duration // monotonic, of the stretch as a whole
	At         time.Time     // civil time of End; zero: not placed
	FanHours   float64       // hours the fan ran since the run before, transients too short for a run included
	Open       []string      // names of the gates that are open, sorted
	Ports      []Port        // selectors, sorted by name
	Unknown    []string      `json:",omitempty"` // of an Unknown run: gates and selectors whose position is not known, sorted
	Channels   []Summary     // sorted by channel; only channels with readings
}

// Port is the position of one selector.
type Port struct {
	Selector string
	Port     int
}

// Summary is what one channel read during a run, zero-corrected.
type Summary struct {
	Channel string
	Mean    float64       // SI, robust
	SE      float64       // standard error of Mean, correlation of the samples included
	SD      float64       // of single samples about the mean; NaN: not known
	N       int           // samples used
	Slope   float64       // SI per second, over the run
	Zero    float64       // the zero that was subtracted; 0 where none is known
	ZeroAge time.Duration // since that zero was taken; negative: never, or not known
}

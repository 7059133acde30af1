package alarm

import (
	"time"

	"ductward/internal/finding"
)

// Delay is how long a cause must hold before its alarm is raised, and be gone before it is cleared; how long an alarm may
// stand until it asks again (0: it never does); and how long it may be shelved at most.
type Delay struct{ On, Off, Again, Shelf time.Duration }

// Options are the choices of a Manager.
type Options struct {
	ActToday   Delay
	Plan       Delay
	Instrument Delay
	// Refresh is how often the words of a standing alarm may be renewed when nothing else about it changes. The
	// numbers in a text move with every estimate, and every change is written to the store and published.
	Refresh time.Duration
}

// DefaultOptions returns the choices for a small shop (common practice, no source). Findings are already tests with a
// stated false-alarm rate, so they are told at once; what the delays stop is chatter. Instrument trouble is the
// exception: a connector that is touched in passing answers again within a minute. Its off-delay is longer than it takes
// after a restart to find that a sensor is still lost, so that the alarm stands through it. What must be acted on today
// asks again the next day, a plan after two weeks, and an instrument never: it is told once.
func DefaultOptions() Options {
	return Options{
		ActToday:   Delay{Off: 10 * time.Minute, Again: 24 * time.Hour, Shelf: 24 * time.Hour},
		Plan:       Delay{Off: time.Hour, Again: 14 * 24 * time.Hour, Shelf: 7 * 24 * time.Hour},
		Instrument: Delay{On: time.Minute, Off: 5 * time.Minute, Shelf: 7 * 24 * time.Hour},
		Refresh:    time.Hour,
	}
}

func (o *Options) delay(p finding.Priority) Delay {
	switch p {
	case finding.ActToday:
		return o.ActToday
	case finding.Plan:
		return o.Plan
	default:
		return o.Instrument
	}
}

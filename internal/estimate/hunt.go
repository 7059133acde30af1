package estimate

import (
	"time"

	"ductward/internal/journal"
	"ductward/internal/steady"
)

// huntState is a leak hunt that goes on: somebody opens and shuts gates to find the place, and each run is judged as it
// ends instead of in the evening. That it goes on is told by the journal, so that a rebuild finds the same.
type huntState struct {
	on    bool
	hours float64 // of fan since it began
	boot  uint32  // of its last run, and when that ended
	end   time.Duration
}

const (
	leastTest = 90 * time.Second // a shorter run, as between two moves of the gates, is not judged by itself
	mostHunt  = 2.0              // hours of fan after which a hunt is over, whether anybody said so or not
)

// huntEntry takes in that a hunt begins or ends.
func (e *Estimator) huntEntry(j journal.Entry) {
	if j.Subject != "" && !e.owns(j.Subject) {
		return
	}
	switch j.Kind {
	case journal.LeakHunt:
		e.hunt = huntState{on: true}
	case journal.LeakHuntEnded:
		e.hunt = huntState{}
	}
}

// run lets a hunt grow old: it ends with the day in which it was made.
func (h *huntState) run(r *steady.Run) {
	if !h.on {
		return
	}
	rested := r.Boot != h.boot || r.Start-h.end >= dayGap
	over := h.hours > 0 && rested
	if h.hours += r.FanHours; over || h.hours > mostHunt {
		*h = huntState{}
		return
	}
	h.boot, h.end = r.Boot, r.End
}

// Hunting tells whether a leak hunt goes on, and how much steady air its next test needs.
func (e *Estimator) Hunting() (on bool, test time.Duration) {
	if n := e.NextTest(); e.hunt.on && n != nil && len(n.Tests) > 0 {
		return true, n.Tests[0].Duration
	}
	return e.hunt.on, 0
}

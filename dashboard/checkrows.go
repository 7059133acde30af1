package dashboard

import (
	"time"

	"ductward/internal/journal"
)

// checkRow is one check of the owner's schedule.
type checkRow struct {
	Name, AskedBy, Last, Next string
	Due                       bool
}

// checkRows tells how the checks stand.
func (s *server) checkRows(entries []journal.Entry, now time.Time) (out []checkRow) {
	for _, d := range s.scheduled(entries, now) {
		r := checkRow{Name: d.Check.Name, AskedBy: d.Check.AskedBy, Last: "never", Next: s.day(d.At, now), Due: d.Over}
		if !d.Last.IsZero() {
			r.Last = s.day(d.Last, now) + ", " + d.By
			if d.Result != "" {
				r.Last += ": " + string(d.Result)
			}
		}
		if d.Over {
			r.Next = "due since " + r.Next
		}
		out = append(out, r)
	}
	return out
}

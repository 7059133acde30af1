// Package checks says which of the checks that an owner has picked are due, by the logbook. It knows no law: what is to be
// checked, how often and who asks for it stand in the shop file, and its owner picks and edits them.
package checks

import (
	"time"

	"ductward/internal/journal"
	"ductward/internal/shop"
)

// Due is how one check stands.
type Due struct {
	Check  shop.Check
	Last   time.Time      // when it was done last; zero: never
	Result journal.Result // of that
	By     string
	At     time.Time // when it is to be done next
	Over   bool      // that has passed
}

// List tells how each check stands at now. The entries are those in force; began is when the watch over the shop began, from
// which a check counts that was never done. One that was noted as not done is not done.
func List(list []shop.Check, entries []journal.Entry, began, now time.Time) []Due {
	out := make([]Due, len(list))
	for i, c := range list {
		d := Due{Check: c, At: c.After(began)}
		for j := range entries {
			e := &entries[j]
			if e.Kind == journal.Check && e.Subject == c.Name && e.Result != journal.NotDone && !e.Time.Before(d.Last) {
				d.Last, d.Result, d.By = e.Time, e.Result, e.By
			}
		}
		if !d.Last.IsZero() {
			d.At = c.After(d.Last)
		}
		d.Over = !now.Before(d.At)
		out[i] = d
	}
	return out
}

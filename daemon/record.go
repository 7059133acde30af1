package daemon

import (
	"errors"
	"fmt"
	"time"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/store"
)

// ownFindings are what the daemon has found about itself.
func (f *fold) ownFindings(mono time.Duration) []finding.Finding {
	own := append(f.damaged.findings(), f.tells.findings(mono, f.civil, f.in.boot)...)
	if !f.committing.stands() || mono-f.committing.since < f.pace.failingAfter {
		return own
	}
	since := f.civil(f.committing.since)
	return append(own, finding.Finding{
		ID:       fmt.Sprintf("%s.%d.%d", finding.RecordFailing, f.in.boot, int64(f.committing.since.Seconds())),
		Kind:     finding.RecordFailing,
		Priority: finding.ActToday,
		Raised:   since,
		Onset:    since,
		Text:     fmt.Sprintf("What the sensors read cannot be stored: %v. %s", f.committing.last, f.heldWords()),
		Action:   diagnosis.Of(finding.RecordFailing).Action(f.failingRemedy()),
	})
}

// failingRemedy is what must be done so that what is read is stored again, where it is not the disk.
func (f *fold) failingRemedy() string {
	if errors.Is(f.committing.last, store.ErrLimit) {
		return "Keep raw readings for a shorter time"
	}
	return ""
}

// heldWords tell what becomes of what cannot be stored.
func (f *fold) heldWords() string {
	if errors.Is(f.appending.last, store.ErrFull) {
		return "Memory for it is used up, and new readings are lost."
	}
	return "It is held in memory, and is lost when the power goes."
}

package daemon

import (
	"errors"
	"fmt"
	"time"

	"ductward/internal/finding"
	"ductward/internal/store"
)

// recordFailing is the daemon's own finding: what is read reaches the card no more.
const recordFailing finding.Kind = "record-failing"

// ownFindings are what the daemon has found about itself.
func (f *fold) ownFindings(mono time.Duration) []finding.Finding {
	own := append(f.damaged.findings(), f.tells.findings(mono, f.civil, f.in.boot)...)
	if !f.committing.stands() || mono-f.committing.since < f.pace.failingAfter {
		return own
	}
	since := f.civil(f.committing.since)
	return append(own, finding.Finding{
		ID:       fmt.Sprintf("%s.%d.%d", recordFailing, f.in.boot, int64(f.committing.since.Seconds())),
		Kind:     recordFailing,
		Priority: finding.ActToday,
		Raised:   since,
		Onset:    since,
		Text:     fmt.Sprintf("What the sensors read cannot be stored: %v. %s", f.committing.last, f.heldWords()),
		Action:   f.failingAction() + " Do not switch the board off before it works again.",
	})
}

// failingAction says what can be done so that what is read is stored again.
func (f *fold) failingAction() string {
	if errors.Is(f.committing.last, store.ErrLimit) {
		return "Keep raw readings for a shorter time."
	}
	return "Make room on the disk that holds the data folder, or replace the card."
}

// heldWords tell what becomes of what cannot be stored.
func (f *fold) heldWords() string {
	if errors.Is(f.appending.last, store.ErrFull) {
		return "Memory for it is used up, and new readings are lost."
	}
	return "It is held in memory, and is lost when the power goes."
}

package daemon

import (
	"fmt"
	"sync"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/store"
)

// byItself is who signs what the daemon enters into the logbook.
const byItself = "ductward"

// damaged are the findings of this life of the daemon that tell of damage to what was stored.
type damaged struct {
	mu   sync.Mutex
	list []finding.Finding
}

// tell enters into the logbook that another file came in the place of the store's, and why; of damage it makes an alarm,
// which stands until the next start. It is safe for concurrent use.
func (f *fold) tell(told store.Notice) {
	if told.SetAside == "" {
		return
	}
	at := f.civil(f.clk.Mono())
	if _, err := f.addEntry(journal.Entry{Time: at, Kind: journal.Other, Note: told.Text, By: byItself}); err != nil {
		f.log.Error("what became of the store could not be entered into the logbook", "err", err, "notice", told.Text)
	}
	if !told.Damaged {
		return
	}
	f.damaged.mu.Lock()
	defer f.damaged.mu.Unlock()
	f.damaged.list = append(f.damaged.list, finding.Finding{
		ID:       fmt.Sprintf("%s.%d.%d", finding.RecordDamaged, f.in.boot, len(f.damaged.list)+1),
		Kind:     finding.RecordDamaged,
		Priority: finding.Instrument,
		Raised:   at,
		Onset:    at,
		Text:     "A part of what was stored is damaged: " + told.Text + ".",
		Action:   diagnosis.Of(finding.RecordDamaged).Action(""),
	})
}

// findings lists the damage that was told.
func (d *damaged) findings() []finding.Finding {
	d.mu.Lock()
	defer d.mu.Unlock()
	return append([]finding.Finding(nil), d.list...)
}

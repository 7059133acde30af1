package finding

import (
	"fmt"
	"strings"
	"time"
)

// NewID returns an identity for a finding that none of those that there are has: of the collector, what it is about, and
// the civil day of its onset as the given time's zone has it ("undated" for the zero time).
func NewID(have []Finding, collector, what, subject string, onset time.Time) string {
	id := collector + "." + what
	if subject != "" {
		id += "." + strings.ReplaceAll(subject, " ", "-")
	}
	label := "undated"
	if !onset.IsZero() {
		label = onset.Format("20060102")
	}
	id = strings.NewReplacer("/", ".", ":", ".").Replace(id) + "." + label
	n := 1
	for _, f := range have {
		if f.ID == id || strings.HasPrefix(f.ID, id+".") {
			n++
		}
	}
	if n > 1 {
		id = fmt.Sprintf("%s.%d", id, n)
	}
	return id
}

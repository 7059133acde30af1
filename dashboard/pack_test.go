package dashboard

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/shop"
)

func TestThePackHasWhatAnExaminerAsksFor(t *testing.T) {
	f := newFake()
	id := f.alarms[0].ID
	f.entries = append(f.entries,
		journal.Entry{Time: testNow.Add(-time.Hour), Kind: journal.Alarm, Alarm: id, Event: "acknowledged", By: "M. Hale"},
		journal.Entry{Time: testNow.Add(-time.Minute), Kind: journal.Alarm, Alarm: id, Event: "confirmed", By: "M. Hale", Note: "a split hose", Action: "new hose"})
	w := get(t, f.handler(t), "/pack?from=2026-11-01&to=2026-11-25")
	require.Equal(t, http.StatusOK, w.Code)
	page := w.Body.String()
	for _, words := range []string{"1 November 2026 to 25 November 2026", "Test points", "main/filter drop", "Baseline", "Zero taken off",
		"confirmed, M. Hale: found a split hose; done new hose", journal.Head(f.entries).String(), "Days without"} {
		assert.Contains(t, page, words)
	}
	empty := newFake()
	empty.empty = true
	page = get(t, empty.handler(t), "/pack?from=2026-11-01&to=2026-11-25").Body.String()
	assert.Contains(t, page, "25 days, from 1 Nov to 25 Nov", "gaps are said")
}

func TestChecksAreDueByTheLogbook(t *testing.T) {
	f := newFake()
	f.shop.Checks = []shop.Check{{Name: "hoses", Days: 7, AskedBy: "the owner"}, {Name: "earth wires", Days: 1}}
	h := f.handler(t)
	page := get(t, h, "/logbook").Body.String()
	assert.Contains(t, page, "due since")
	assert.Contains(t, page, "the owner")
	require.Equal(t, http.StatusSeeOther, send(h, "/api/v1/journal", asForm, "kind=check&by=Ann&subject=hoses&result=ok").Code)
	page = get(t, h, "/logbook").Body.String()
	assert.Contains(t, page, "today, Ann: ok")
	assert.Contains(t, page, `<option>earth wires</option>`)
}

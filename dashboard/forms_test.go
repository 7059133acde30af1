package dashboard

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/journal"
)

func TestALogbookLineFromAForm(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	form := url.Values{"kind": {"sealed"}, "subject": {"trunk 5"}, "note": {" Mastic on the lower seam. "}, "by": {"M. Hale"}, "time": {"2026-11-25T13:30"}}
	w := send(h, "/api/v1/journal", asForm, form.Encode())
	require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
	assert.Equal(t, "/logbook?kept=sealed", w.Header().Get("Location"))
	got := f.entries[len(f.entries)-1]
	assert.Equal(t, journal.Sealed, got.Kind)
	assert.Equal(t, "trunk 5", got.Subject)
	assert.Equal(t, "Mastic on the lower seam.", got.Note)
	assert.True(t, got.Time.Equal(time.Date(2026, 11, 25, 13, 30, 0, 0, time.UTC)), got.Time)

	// The name is remembered, so that the next line takes one tap.
	r := httptest.NewRequest(http.MethodGet, "/logbook?kept=sealed", nil)
	for _, c := range w.Result().Cookies() {
		assert.True(t, c.HttpOnly)
		assert.Equal(t, http.SameSiteStrictMode, c.SameSite)
		r.AddCookie(c)
	}
	p := httptest.NewRecorder()
	h.ServeHTTP(p, r)
	assert.Contains(t, p.Body.String(), `value="M. Hale"`)
	assert.Contains(t, p.Body.String(), "Written down: Seam re-sealed.")
	assert.Contains(t, p.Body.String(), "Mastic on the lower seam.")
}

func TestALogbookLineThatCannotBeKept(t *testing.T) {
	for _, c := range []struct{ name, body, says string }{
		{"no name", `{"kind":"check"}`, "write your name"},
		{"unknown kind", `{"kind":"sawn","by":"Ann"}`, "filter-cleaned"},
		{"unknown subject", `{"kind":"check","by":"Ann","subject":"lathe"}`, `subject "lathe" is not in the shop file`},
		{"in the future", `{"kind":"check","by":"Ann","time":"2026-11-25T15:00:00Z"}`, "lies in the future"},
		{"unknown key", `{"kind":"check","who":"Ann"}`, "unknown field"},
		{"not JSON", `kind=check`, "JSON object"},
		{"long note", `{"kind":"check","by":"Ann","note":"` + strings.Repeat("x", maxNote+1) + `"}`, "shorten it"},
		{"long name", `{"kind":"check","by":"` + strings.Repeat("x", maxName+1) + `"}`, "at most 80"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFake()
			before := len(f.entries)
			w := send(f.handler(t), "/api/v1/journal", asJSON, c.body)
			assert.Equal(t, http.StatusBadRequest, w.Code)
			assert.Contains(t, w.Body.String(), strings.ReplaceAll(c.says, `"`, `\"`))
			assert.Len(t, f.entries, before)
		})
	}
}

func TestAFailingStoreIsTold(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	f.fail = errors.New("disk full at /var")
	w := send(h, "/api/v1/journal", asForm, "kind=check&by=Ann")
	assert.Equal(t, http.StatusInternalServerError, w.Code)
	for _, path := range []string{"/filter", "/leaks", "/logbook", "/history", "/api/v1/chart?channel=main/trunk&from=2026-11-25T08:00:00Z&to=2026-11-25T09:00:00Z", "/history.csv"} {
		w = get(t, h, path)
		assert.Equal(t, http.StatusInternalServerError, w.Code, path)
		assert.NotContains(t, w.Body.String(), "/var", "the cause is for the log, not for the page")
	}
}

func TestAcknowledge(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	id := f.alarms[1].ID
	require.Contains(t, id, "/", "a name that must be escaped in an address")
	page := get(t, h, "/findings").Body.String()
	action := "/api/v1/alarms/" + url.PathEscape(id) + "/acknowledge"
	require.Contains(t, page, action, "the page's own form must lead there")

	assert.Equal(t, http.StatusBadRequest, send(h, action, asForm, "by=").Code)
	assert.Equal(t, alarm.ActiveUnacknowledged, f.alarms[1].State)
	assert.Equal(t, http.StatusNotFound, send(h, "/api/v1/alarms/none/acknowledge", asJSON, `{"by":"Ann"}`).Code)

	w := send(h, action, asForm, "by=Ann")
	require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
	assert.Equal(t, alarm.ActiveAcknowledged, f.alarms[1].State)
	assert.Equal(t, "Ann", f.alarms[1].AckedBy)
	page = get(t, h, "/findings").Body.String()
	assert.NotContains(t, page, action)
	assert.Contains(t, page, "seen by Ann, today 14:05")
	assert.Contains(t, get(t, h, "/logbook").Body.String(), "Alarm seen")
}

package dashboard

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// queried are the addresses that take a query. The streams never end, and are left out.
var queried = []string{"/", "/history", "/history.csv", "/logbook", "/pack", "/alarms", "/findings", "/leaks", "/filter", "/sensors", "/ducts",
	"/setup", "/live/now", "/charts/filter", "/charts/leaks", "/charts/history", "/api/v1/chart", "/api/v1/journal", "/api/v1/state", "/sign-in"}

// FuzzQuery: whatever stands in a query, a page answers, and never with a failure of its own.
func FuzzQuery(f *testing.F) {
	h := newFake().handler(f)
	f.Add(uint8(1), "ch=main/trunk+static&from=2026-03-01T07:00:00Z&to=2026-03-02T07:00:00Z")
	f.Add(uint8(3), "from=2026-03-01&to=2026-02-01&kept=check")
	f.Add(uint8(16), "channel=main/pitot&from=%00&to=1e309&n=-1")
	f.Add(uint8(15), "ch=%zz&ch=;;&from=0001-01-01T00:00:00Z&to=9999-12-31T23:59:59Z")
	f.Fuzz(func(t *testing.T, which uint8, query string) {
		r := httptest.NewRequest(http.MethodGet, queried[int(which)%len(queried)], nil)
		r.URL.RawQuery = query
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Less(t, w.Code, http.StatusInternalServerError, "%s?%s: %s", r.URL.Path, query, w.Body)
	})
}

// written are the addresses that take a body.
var written = []string{"/api/v1/journal", "/api/v1/positions", "/api/v1/hunt", "/api/v1/baseline", "/units", "/api/v1/test-letter", "/sign-in",
	"/sign-out", "/api/v1/alarms/ID/acknowledge", "/api/v1/alarms/ID/shelve", "/api/v1/alarms/ID/unshelve", "/api/v1/alarms/ID/out",
	"/api/v1/alarms/ID/back", "/api/v1/alarms/ID/confirm"}

// FuzzBody: whatever is posted is taken or refused, never a failure of the dashboard's own.
func FuzzBody(f *testing.F) {
	fake := newFake()
	cfg := fake.config()
	cfg.Delivery = &post{}
	h, err := New(cfg)
	require.NoError(f, err)
	entries, alarms := fake.entries[:len(fake.entries):len(fake.entries)], fake.alarms
	id := url.PathEscape(alarms[0].ID)
	f.Add(uint8(0), true, "kind=check&by=Ann&note=x&result=ok&corrects=1")
	f.Add(uint8(0), false, `{"kind":"filter-cleaned","by":"Ann","time":"2026-03-01T07:00:00Z"}`)
	f.Add(uint8(9), true, "by=Ann&reason=x&hours=2&once=1")
	f.Add(uint8(9), false, `{"by":"Ann","reason":"x","hours":1e99}`)
	f.Add(uint8(1), false, `{"name":"saw gate","position":null}`)
	f.Add(uint8(3), false, "[[[[[[")
	f.Add(uint8(4), true, "units=%zz&back=//elsewhere.example")
	f.Fuzz(func(t *testing.T, which uint8, form bool, body string) {
		fake.entries, fake.alarms = entries, append(alarms[:0:0], alarms...)
		kind := asJSON
		if form {
			kind = asForm
		}
		path := strings.ReplaceAll(written[int(which)%len(written)], "ID", id)
		w := send(h, path, kind, body)
		require.Less(t, w.Code, http.StatusInternalServerError, "%s %q: %s", path, body, w.Body)
		if at := w.Header().Get("Location"); at != "" {
			require.Regexp(t, `^/([^/\\]|$)`, at, "%s %q sends elsewhere", path, body)
		}
	})
}

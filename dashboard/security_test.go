package dashboard

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// send posts a body with headers given as pairs.
func send(h http.Handler, path, kind, body string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
	r.Header.Set("Content-Type", kind)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

const (
	asForm = "application/x-www-form-urlencoded"
	asJSON = "application/json"
)

func TestPolicyForbidsInlineAndForeign(t *testing.T) {
	assert.NotContains(t, contentPolicy, "unsafe")
	assert.NotContains(t, contentPolicy, "*")
	assert.Contains(t, contentPolicy, "default-src 'none'")
	h := newFake().handler(t)
	for _, path := range append(paths(), "/static/dash.js", "/api/v1/state", "/nowhere", "/live/now") {
		w := get(t, h, path)
		assert.Equal(t, contentPolicy, w.Header().Get("Content-Security-Policy"), path)
		assert.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"), path)
		assert.Equal(t, "no-referrer", w.Header().Get("Referrer-Policy"), path)
	}
}

func TestAnotherOriginCannotChangeAnything(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	before := len(f.entries)
	w := send(h, "/api/v1/journal", asForm, "kind=check&by=Eve", "Sec-Fetch-Site", "cross-site")
	assert.Equal(t, http.StatusForbidden, w.Code)
	w = send(h, "/api/v1/journal", asJSON, `{"kind":"check","by":"Eve"}`, "Origin", "http://elsewhere.example")
	assert.Equal(t, http.StatusForbidden, w.Code)
	assert.Len(t, f.entries, before)
	w = send(h, "/api/v1/journal", asForm, "kind=check&by=Ann", "Sec-Fetch-Site", "same-origin")
	assert.Equal(t, http.StatusSeeOther, w.Code)
	assert.Len(t, f.entries, before+1)
}

func TestGetChangesNothing(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	entries, alarms := len(f.entries), f.List()
	for _, path := range []string{"/api/v1/journal?kind=check&by=Ann", "/api/v1/alarms/main%2Fair-short%2Ftenoner/acknowledge?by=Ann", "/logbook?kept=check&kind=check&by=Ann"} {
		get(t, h, path)
	}
	assert.Len(t, f.entries, entries)
	assert.Equal(t, alarms, f.List())
}

func TestBodiesAndQueriesAreBounded(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	before := len(f.entries)
	w := send(h, "/api/v1/journal", asForm, "kind=check&by=Ann&note="+strings.Repeat("x", maxBody))
	assert.Equal(t, http.StatusBadRequest, w.Code)
	w = send(h, "/api/v1/journal", asJSON, `{"kind":"check","by":"Ann","note":"`+strings.Repeat("x", maxBody)+`"}`)
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Len(t, f.entries, before)
	assert.Equal(t, http.StatusRequestURITooLong, get(t, h, "/history?ch="+strings.Repeat("x", maxQuery)).Code)
	s := NewServer(h)
	assert.Positive(t, s.MaxHeaderBytes)
	assert.Positive(t, s.ReadHeaderTimeout)
	assert.Positive(t, s.WriteTimeout)
}

func TestWhatComesInIsWrittenAsText(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	evil := `<script>alert(1)</script>`
	w := send(h, "/api/v1/journal", asJSON, `{"kind":"other","by":"`+evil+`","note":"`+evil+`"}`)
	require.Equal(t, http.StatusCreated, w.Code, w.Body.String())
	page := get(t, h, "/logbook").Body.String()
	assert.NotContains(t, page, "<script>alert")
	assert.Contains(t, page, "&lt;script&gt;alert(1)")
	assert.NotContains(t, get(t, h, "/history?ch="+evil).Body.String(), "<script>alert")
}

// echartsSum is that of dist/echarts.min.js in the npm package echarts 5.4.3, the version that go-echarts v2.6.7 names in
// its README.
const echartsSum = "1156429a16a38cb8604dcc6518c19406d4226142d908f8edd2e3531443c54d19"

func TestChartScriptIsTheUnmodifiedRelease(t *testing.T) {
	body, err := files.ReadFile("third_party/echarts/echarts.min.js")
	require.NoError(t, err)
	sum := sha256.Sum256(body)
	assert.Equal(t, echartsSum, hex.EncodeToString(sum[:]))
	assert.Contains(t, string(body[:1000]), "Apache License")
}

func TestStaticFilesAreKeptAndPacked(t *testing.T) {
	h := newFake().handler(t)
	s := &server{}
	var err error
	s.assets, err = loadAssets()
	require.NoError(t, err)
	address, err := s.assetURL("dash.css")
	require.NoError(t, err)
	w := get(t, h, address)
	assert.Equal(t, "max-age=31536000, immutable", w.Header().Get("Cache-Control"))
	assert.Equal(t, "no-cache", get(t, h, "/static/dash.css").Header().Get("Cache-Control"))
	assert.Equal(t, http.StatusNotFound, get(t, h, "/static/..%2Fdoc.go").Code)

	r := httptest.NewRequest(http.MethodGet, "/static/echarts.min.js", nil)
	r.Header.Set("Accept-Encoding", "gzip")
	p := httptest.NewRecorder()
	h.ServeHTTP(p, r)
	z, err := gzip.NewReader(bytes.NewReader(p.Body.Bytes()))
	require.NoError(t, err)
	plainBody, err := io.ReadAll(z)
	require.NoError(t, err)
	sum := sha256.Sum256(plainBody)
	assert.Equal(t, echartsSum, hex.EncodeToString(sum[:]))

	r = httptest.NewRequest(http.MethodGet, address, nil)
	r.Header.Set("If-None-Match", w.Header().Get("ETag"))
	n := httptest.NewRecorder()
	h.ServeHTTP(n, r)
	assert.Equal(t, http.StatusNotModified, n.Code)
}

func TestNewNamesWhatIsMissing(t *testing.T) {
	c := newFake().config()
	c.Journal = nil
	_, err := New(c)
	assert.EqualError(t, err, "dashboard: Config.Journal is not set: it must be before New")
}

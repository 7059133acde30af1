package dashboard

import (
	"encoding/json"
	"math"
	"mime"
	"net/http"
	"strings"
	"time"
)

// num is a number in JSON, or nil (null) where it is not known: JSON has no NaN, and 0 would be a lie.
func num(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// stamp is a time in JSON, RFC 3339 in UTC, or nil (null) where it is not known.
func stamp(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	u := t.UTC()
	return &u
}

// list makes an empty list of a nil one: a list in JSON is never null.
func list[T any](v []T) []T {
	if v == nil {
		return []T{}
	}
	return v
}

// writeJSON sends v. It marshals first, so that a failure never leaves half an answer.
func writeJSON(w http.ResponseWriter, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		http.Error(w, `{"error":"the answer could not be written"}`, http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(append(b, '\n')) // the client may have gone; there is nobody left to tell
}

// wantsJSON tells whether the answer goes to a program: everything under /api/ that was not sent by a page's form.
func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/api/") && !isForm(r)
}

// isForm tells whether a page's form sent this.
func isForm(r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return err == nil && (kind == "application/x-www-form-urlencoded" || kind == "multipart/form-data")
}

package dashboard

import (
	"net/http"
)

const (
	maxBody  = 16 << 10 // bytes; a logbook line is far shorter
	maxQuery = 4 << 10  // bytes of a query; the longest of our own names every channel of a large shop
)

// contentPolicy lets a page use its own style sheet, script, pictures and data, and nothing else. There is no
// 'unsafe-inline' and no 'unsafe-eval': no template carries a script, a handler or a style attribute.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard bounds what comes in, sets what protects the answer, and refuses what a page of another origin sends or what was
// meant for another name.
func (s *server) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, http.StatusForbidden, "this was sent by a page of another site: open the dashboard itself and send it from there")
	}))
	bounded := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if len(r.URL.RawQuery) > maxQuery {
			s.fail(w, r, http.StatusRequestURITooLong, "the query is longer than 4,096 bytes: ask for fewer channels at a time")
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		next.ServeHTTP(w, r)
	})
	meant := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.meant(r) {
			s.misdirect(w, r)
			return
		}
		bounded.ServeHTTP(w, r)
	})
	inner := cross.Handler(meant)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
		h.Set("Cache-Control", "no-store") // a page shows a moment; static files say otherwise for themselves
		inner.ServeHTTP(w, r)
	})
}

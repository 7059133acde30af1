package dashboard

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"ductward/internal/shop"
)

// unitsCookie remembers in which units this browser shows numbers.
const unitsCookie = "ductward_units"

// as is the server with the units of one request: what its owner chose in the shop file, or what this person chose since.
func (s *server) as(r *http.Request) *server {
	system := ""
	if c, err := r.Cookie(unitsCookie); err == nil {
		system = c.Value
	}
	own := *s
	own.units = unitsOf(system, s.Shop.Site.Units)
	return &own
}

// shown makes a handler answer in the units of its request.
func (s *server) shown(answer func(*server, http.ResponseWriter, *http.Request)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) { answer(s.as(r), w, r) }
}

// setUnits keeps a person's choice of units in the browser for a year, and leads back to the page that it was made on.
func (s *server) setUnits(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, http.StatusBadRequest, fmt.Sprintf("the form could not be read: send it again, in at most %d bytes", maxBody))
		return
	}
	system := r.PostForm.Get("units")
	if system != shop.Metric && system != shop.InchPound {
		s.fail(w, r, http.StatusBadRequest, fmt.Sprintf("units %q are not known: write %s or %s", system, shop.Metric, shop.InchPound))
		return
	}
	http.SetCookie(w, &http.Cookie{Name: unitsCookie, Value: system, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, backTo(r.PostForm.Get("back")), http.StatusSeeOther)
}

// backTo is an address of this site, whatever was sent.
func backTo(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.ContainsRune(text, '\\') {
		return "/"
	}
	return (&url.URL{Path: u.Path, RawQuery: u.RawQuery}).String()
}

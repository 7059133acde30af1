package dashboard

import (
	"net/http"
	"net/netip"
	"net/url"
	"strings"

	"ductward/internal/access"
)

// Gate asks for the shop's password before anything is changed. Reading asks for none.
type Gate struct {
	// Keys is the data folder, with the password's hash and the trusted devices. Where no password was set, whoever uses this
	// machine may write if no other reaches the pages, and else nobody.
	Keys access.Folder
	// Plain is the owner's choice that other machines may change something over a line that is not encrypted. Every page
	// says so.
	Plain bool
}

// entry says whether a request may change something, or why not.
type entry int

const (
	mayWrite   entry = iota
	stranger         // has not signed in
	noPassword       // was ever set
	openLine         // is what the request came over
	unreadable       // is the password
)

// refusals say what somebody can do who may not write, and whom signing in does not help.
var refusals = map[entry]string{
	noPassword: "nothing can be changed from here: the watch is reachable from other machines and has no password yet. Set one on the board itself, with “ductward password”",
	openLine:   "nothing can be changed from here: the line is not encrypted, and whoever listens on the network would have the password. Give the watch a certificate (--tls-cert, --tls-key), or let its owner choose --plain-http",
	unreadable: "nothing can be changed just now: the password could not be read, and the log of the service says why",
}

// entryOf judges a request: by its browser's session or trust, or by a password that a program sends with it (RFC 7617; the
// user's name is passed over).
func (s *server) entryOf(r *http.Request) entry {
	if s.Gate == nil {
		return mayWrite
	}
	by, err := s.Gate.Keys.Password()
	switch {
	case err != nil:
		s.Log.Error("nobody may write", "error", err)
		return unreadable
	case by == "" && s.Loopback:
		return mayWrite
	case by == "":
		return noPassword
	case !s.Gate.Plain && !encrypted(r) && !fromHere(r):
		return openLine
	}
	if c, err := r.Cookie(sessionCookie); err == nil && (s.sessions.knows(c.Value, by) || s.Gate.Keys.Trusted(c.Value, by)) {
		return mayWrite
	}
	if _, password, ok := r.BasicAuth(); ok && s.sessions.right(r, password, by) {
		return mayWrite
	}
	return stranger
}

// encrypted tells whether nobody on the way can read a request: it came over TLS, or a server on this machine says that it
// did so there. Nobody else is believed.
func encrypted(r *http.Request) bool {
	return r.TLS != nil || fromHere(r) && r.Header.Get("X-Forwarded-Proto") == "https"
}

// fromHere tells whether a request came from this machine, where no line is listened to.
func fromHere(r *http.Request) bool { return peer(r).IsLoopback() }

// peer is the address from which a request came; the zero one where it cannot be told.
func peer(r *http.Request) netip.Addr {
	p, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap().WithZone("")
}

// gated lets nothing be changed by who may not. In which units pages are shown is nobody else's matter.
func (s *server) gated(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		reads := r.Method == http.MethodGet || r.Method == http.MethodHead
		if reads || r.URL.Path == "/sign-in" || r.URL.Path == "/units" {
			next.ServeHTTP(w, r)
			return
		}
		switch e := s.entryOf(r); {
		case e == mayWrite:
			s.renew(w, r)
			next.ServeHTTP(w, r)
		case e != stranger:
			s.fail(w, r, http.StatusForbidden, refusals[e])
		case isForm(r):
			http.Redirect(w, r, "/sign-in?to="+url.QueryEscape(formPage(r)), http.StatusSeeOther)
		default:
			w.Header().Set("WWW-Authenticate", `Basic realm="ductward", charset="UTF-8"`)
			s.fail(w, r, http.StatusUnauthorized, "this changes something and needs the shop's password")
		}
	})
}

// formPage is the page from which a form was sent. Pages send no address of theirs along, so that the form's own address
// tells.
func formPage(r *http.Request) string {
	switch {
	case strings.HasPrefix(r.URL.Path, "/api/v1/journal"):
		return "/logbook"
	case strings.HasPrefix(r.URL.Path, "/api/v1/positions"):
		return "/ducts"
	case strings.HasPrefix(r.URL.Path, "/api/v1/hunt"):
		return "/hunt"
	case strings.HasPrefix(r.URL.Path, "/api/v1/baseline"):
		return "/setup"
	}
	return "/alarms"
}

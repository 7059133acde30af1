package dashboard

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"ductward/internal/clock"
)

// Gate asks for the shop's password before anything is changed. Reading asks for none.
type Gate struct {
	// Password is the shop's; "" lets nobody write.
	Password string
}

// The bounds of signing in. A host that tries passwords gets five at once and then one in ten seconds; a hundred browsers
// are more than a shop has.
const (
	sessionCookie = "ductward_session"
	sessionLasts  = 30 * 24 * time.Hour
	mostSessions  = 100
	mostHosts     = 1000
	freeTries     = 5
	tryEvery      = 10 * time.Second
)

// sessions are the browsers that have signed in. They end with the process.
type sessions struct {
	gate *Gate // nil: nobody is asked
	clk  clock.Clock

	mu    sync.Mutex
	ends  map[[sha256.Size]byte]time.Duration // monotonic, by the hash of the cookie
	tries map[string]*tries                   // by the host that tries
}

// tries are how many a host has left, as of a monotonic time.
type tries struct {
	left float64
	last time.Duration
}

func newSessions(g *Gate, clk clock.Clock) *sessions {
	return &sessions{gate: g, clk: clk, ends: map[[sha256.Size]byte]time.Duration{}, tries: map[string]*tries{}}
}

// mayWrite tells whether a request may change something: by its browser's session, or by a password that a program sends
// with it (RFC 7617; the user's name is passed over).
func (s *sessions) mayWrite(r *http.Request) bool {
	if s.gate == nil {
		return true
	}
	if s.gate.Password == "" {
		return false
	}
	if c, err := r.Cookie(sessionCookie); err == nil && s.knows(c.Value) {
		return true
	}
	_, password, ok := r.BasicAuth()
	return ok && s.right(password, r)
}

func (s *sessions) knows(cookie string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	end, ok := s.ends[sha256.Sum256([]byte(cookie))]
	return ok && s.clk.Mono() < end
}

// right compares a password in constant time, unless the host has tried too many.
func (s *sessions) right(password string, r *http.Request) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	t := s.triesOf(r)
	if t.left < 1 {
		return false
	}
	given, right := sha256.Sum256([]byte(password)), sha256.Sum256([]byte(s.gate.Password))
	if subtle.ConstantTimeCompare(given[:], right[:]) == 1 {
		return true
	}
	t.left--
	return false
}

// triesOf returns what the host of a request has left now. The caller holds mu.
func (s *sessions) triesOf(r *http.Request) *tries {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	now := s.clk.Mono()
	t := s.tries[host]
	if t == nil {
		if len(s.tries) >= mostHosts {
			clear(s.tries)
		}
		t = &tries{left: freeTries}
		s.tries[host] = t
	}
	t.left = min(freeTries, t.left+(now-t.last).Seconds()/tryEvery.Seconds())
	t.last = now
	return t
}

// begin begins a session and returns its cookie.
func (s *sessions) begin() string {
	var token [32]byte
	_, _ = rand.Read(token[:]) // never fails
	value := hex.EncodeToString(token[:])
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.ends) >= mostSessions {
		s.dropOldest()
	}
	s.ends[sha256.Sum256([]byte(value))] = s.clk.Mono() + sessionLasts
	return value
}

func (s *sessions) dropOldest() {
	var oldest [sha256.Size]byte
	first := true
	for k, end := range s.ends {
		if first || end < s.ends[oldest] {
			oldest, first = k, false
		}
	}
	delete(s.ends, oldest)
}

func (s *sessions) end(cookie string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.ends, sha256.Sum256([]byte(cookie)))
}

// gated lets nothing be changed by who has not signed in. In which units pages are shown is nobody else's matter.
func (s *server) gated(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		reads := r.Method == http.MethodGet || r.Method == http.MethodHead
		switch {
		case reads || r.URL.Path == "/sign-in" || r.URL.Path == "/units" || s.sessions.mayWrite(r):
			next.ServeHTTP(w, r)
		case s.Gate.Password == "":
			s.fail(w, r, http.StatusForbidden, "nothing can be changed from here: the watch is reachable from other machines and was started without a password (--password-file)")
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

// signInBody is the content of the page that asks for the password.
type signInBody struct {
	To, Problem string
	In          bool // it is signed in already
}

var signInPage = sitePage{Path: "/sign-in", Title: "Sign in", file: "signin.html"}

// askPassword shows the form.
func (s *server) askPassword(w http.ResponseWriter, r *http.Request) {
	s.signInForm(w, r, http.StatusOK, "")
}

func (s *server) signInForm(w http.ResponseWriter, r *http.Request, status int, problem string) {
	rq := s.newRequest(r)
	body := signInBody{To: ownPath(r.FormValue("to")), Problem: problem, In: s.sessions.gate == nil || s.sessions.mayWrite(r)}
	s.render(w, r, status, signInPage.file, s.frame(rq, signInPage, body))
}

// signIn takes the password.
func (s *server) signIn(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, http.StatusBadRequest, "the form could not be read")
		return
	}
	if s.Gate == nil || s.Gate.Password == "" || !s.sessions.right(r.PostForm.Get("password"), r) {
		s.signInForm(w, r, http.StatusForbidden, "That is not the shop’s password, or too many were tried: wait ten seconds and try again.")
		return
	}
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Value: s.sessions.begin(), Path: "/", MaxAge: int(sessionLasts.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil})
	http.Redirect(w, r, ownPath(r.PostForm.Get("to")), http.StatusSeeOther)
}

// signOut ends this browser's session.
func (s *server) signOut(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(sessionCookie); err == nil {
		s.sessions.end(c.Value)
	}
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// ownPath keeps an address only if it is a page of this site.
func ownPath(to string) string {
	for _, p := range sitePages {
		if path := strings.TrimSuffix(p.Path, "{$}"); path == to {
			return path
		}
	}
	return "/"
}

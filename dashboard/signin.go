package dashboard

import (
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"ductward/internal/access"
)

var signInPage = sitePage{Path: "/sign-in", Title: "Sign in", file: "signin.html"}

// signInBody is the content of the page that asks for the password and lists the trusted devices.
type signInBody struct {
	To, Problem string
	In          bool   // whoever asks may write
	Out         bool   // and can sign out
	Refusal     string // why signing in does not help; "": it does
	Open        bool   // the line is not encrypted
	Trusted     bool   // for long, since it is a device of the shop
	Devices     []deviceRow
}

// deviceRow is one trusted device.
type deviceRow struct {
	ID, Name, Since string
	Here            bool // it is the one that asks
}

// askPassword shows the form, or who is trusted.
func (s *server) askPassword(w http.ResponseWriter, r *http.Request) {
	s.signInForm(w, r, http.StatusOK, "")
}

func (s *server) signInForm(w http.ResponseWriter, r *http.Request, status int, problem string) {
	s = s.as(r)
	e := s.entryOf(r)
	body := signInBody{To: ownPath(r.FormValue("to")), Problem: problem, In: e == mayWrite, Refusal: refusals[e], Open: !encrypted(r) && !fromHere(r)}
	if c, err := r.Cookie(sessionCookie); err == nil && body.In && s.Gate != nil {
		body.Out = true
		body.Devices = s.deviceRows(access.TokenID(c.Value))
		body.Trusted = slices.ContainsFunc(body.Devices, func(d deviceRow) bool { return d.Here })
	}
	s.render(w, r, status, signInPage.file, s.frame(s.newRequest(r), signInPage, body))
}

// deviceRows lists the trusted devices; here is the one that asks.
func (s *server) deviceRows(here string) (out []deviceRow) {
	by, err := s.Gate.Keys.Password()
	if err != nil {
		return nil
	}
	known, err := s.Gate.Keys.Devices(by)
	if err != nil {
		s.Log.Error("trusted devices not listed", "error", err)
	}
	for _, d := range known {
		out = append(out, deviceRow{d.ID, d.Name, s.day(d.Since, s.Clock.Now()), d.ID == here})
	}
	return out
}

// signIn takes the password, and trusts the device for long if asked to.
func (s *server) signIn(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, http.StatusBadRequest, "the form could not be read")
		return
	}
	if e := s.entryOf(r); s.Gate == nil || e != stranger && e != mayWrite {
		s.signInForm(w, r, http.StatusForbidden, "")
		return
	}
	name, trust := strings.TrimSpace(r.PostForm.Get("device")), r.PostForm.Get("trust") != ""
	if trust && (name == "" || len(name) > 80) {
		s.signInForm(w, r, http.StatusBadRequest, "Name the device, in at most 80 letters, so that it is known again in the list of those that are trusted.")
		return
	}
	by, err := s.Gate.Keys.Password()
	if err != nil || !s.sessions.right(r, r.PostForm.Get("password"), by) {
		s.signInForm(w, r, http.StatusForbidden, "That is not the shop’s password, or too many were tried: wait ten seconds and try again.")
		return
	}
	token, lasts := "", sessionLasts
	if trust {
		token, lasts = access.NewToken(), trustLasts
		if err := s.Gate.Keys.Trust(token, name, by, s.Clock.Now()); err != nil {
			s.Log.Error("device not trusted", "error", err)
			s.signInForm(w, r, http.StatusInternalServerError, "The device could not be trusted: "+err.Error()+".")
			return
		}
		s.Log.Info("a device is trusted", "name", name)
	} else {
		token = s.sessions.begin(by)
	}
	if old, err := r.Cookie(sessionCookie); err == nil {
		s.sessions.end(old.Value) // the browser keeps one
	}
	http.SetCookie(w, cookieOf(r, token, lasts))
	http.Redirect(w, r, ownPath(r.PostForm.Get("to")), http.StatusSeeOther)
}

// cookieOf holds a token that no script reads, that no other site sends along, and that no plain line carries once the line
// was encrypted.
func cookieOf(r *http.Request, token string, lasts time.Duration) *http.Cookie {
	return &http.Cookie{Name: sessionCookie, Value: token, Path: "/", MaxAge: int(lasts.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: encrypted(r)}
}

// renew sends the cookie of a trusted device anew, before the browser lets go of it.
func (s *server) renew(w http.ResponseWriter, r *http.Request) {
	c, err := r.Cookie(sessionCookie)
	if err != nil || s.Gate == nil || r.URL.Path == "/sign-out" {
		return
	}
	if by, err := s.Gate.Keys.Password(); err == nil && s.Gate.Keys.Trusted(c.Value, by) {
		http.SetCookie(w, cookieOf(r, c.Value, trustLasts))
	}
}

// signOut ends this browser's session, or this device's trust.
func (s *server) signOut(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(sessionCookie); err == nil && s.Gate != nil {
		s.sessions.end(c.Value)
		if err := s.revoke(access.TokenID(c.Value)); err != nil && !errors.Is(err, access.ErrNoDevice) {
			s.trouble(w, r, err)
			return
		}
	}
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: encrypted(r)})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// distrust takes a device's trust away, from whichever browser may write.
func (s *server) distrust(w http.ResponseWriter, r *http.Request) {
	if s.Gate == nil {
		s.notFound(w, r)
		return
	}
	switch err := s.revoke(r.PathValue("id")); {
	case errors.Is(err, access.ErrNoDevice):
		s.fail(w, r, http.StatusNotFound, "no such device is trusted any more")
	case err != nil:
		s.trouble(w, r, err)
	default:
		http.Redirect(w, r, signInPage.Path, http.StatusSeeOther)
	}
}

func (s *server) revoke(id string) error {
	by, err := s.Gate.Keys.Password()
	if err != nil {
		return err
	}
	d, err := s.Gate.Keys.Revoke(id, by)
	if err == nil {
		s.Log.Info("a device is trusted no more", "name", d.Name)
	}
	return err
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

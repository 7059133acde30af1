package dashboard

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/access"
	"ductward/internal/clock"
)

// words is the shop's password, and hashOfWords the file that keeps it: a cheap hash, of 64 KiB and one pass.
const (
	words       = "walnut and beech"
	hashOfWords = "$argon2id$v=19$m=64,t=1,p=1$MDEyMzQ1Njc4OWFiY2RlZg$zy9c1Iu0qoVScQOIFKShK+M8xpjLVbtLL/mX8pK0U40\n"
)

// gatedFake is a shop whose dashboard asks for the password, if it has one.
func gatedFake(t *testing.T, password bool, change func(*Config)) (*fake, http.Handler, *clock.Virtual) {
	t.Helper()
	f := newFake()
	cfg := f.config()
	clk := clock.NewVirtual(testNow)
	keys := access.Folder(t.TempDir())
	cfg.Clock, cfg.Gate = clk, &Gate{Keys: keys, Plain: true}
	if password {
		require.NoError(t, os.WriteFile(filepath.Join(string(keys), access.PasswordFile), []byte(hashOfWords), 0o600))
	}
	if change != nil {
		change(&cfg)
	}
	h, err := New(cfg)
	require.NoError(t, err)
	return f, h, clk
}

// writes are a way to each thing that can be changed.
func writes(f *fake) map[string]string {
	at := "/api/v1/alarms/" + url.PathEscape(f.alarms[0].ID) + "/"
	out := map[string]string{"/api/v1/journal": "kind=check&by=Ann", at + "acknowledge": "by=Ann", "/api/v1/positions": "channel=gate/x&value=1",
		"/api/v1/test-letter": "by=Ann", "/api/v1/hunt": "action=begin&by=Ann", "/api/v1/baseline": "action=accept&by=Ann", "/sign-out": "", "/devices/x/revoke": ""}
	for do := range asides {
		out[at+do] = "by=Ann&reason=x&hours=1&found=x&action=x"
	}
	return out
}

func TestNothingIsChangedByWhoMayNot(t *testing.T) {
	for name, c := range map[string]struct {
		password bool
		change   func(*Config)
		says     string // "": signing in helps
	}{
		"a stranger":         {true, nil, ""},
		"no password":        {false, nil, "ductward password"},
		"a line in the open": {true, func(c *Config) { c.Gate.Plain = false }, "not encrypted"},
		"an unreadable file": {true, func(c *Config) {
			require.NoError(t, os.Chmod(filepath.Join(string(c.Gate.Keys), access.PasswordFile), 0o644))
		}, "could not be read"},
		"an unreadable file on this machine": {true, func(c *Config) {
			c.Loopback = true
			require.NoError(t, os.Chmod(filepath.Join(string(c.Gate.Keys), access.PasswordFile), 0o644))
		}, "could not be read"},
	} {
		t.Run(name, func(t *testing.T) {
			f, h, _ := gatedFake(t, c.password, c.change)
			alarms, entries := f.List(), len(f.entries)
			for path, form := range writes(f) {
				w := send(h, path, asForm, form)
				if c.says != "" {
					assert.Equal(t, http.StatusForbidden, w.Code, path)
					assert.Contains(t, w.Body.String(), c.says, path)
					continue
				}
				assert.Equal(t, http.StatusSeeOther, w.Code, path)
				assert.True(t, strings.HasPrefix(w.Header().Get("Location"), "/sign-in?to=%2F"), path)
				assert.Equal(t, http.StatusUnauthorized, send(h, path, asJSON, `{"by":"Ann"}`).Code, path)
			}
			assert.Equal(t, alarms, f.List())
			assert.Len(t, f.entries, entries)
			assert.Contains(t, get(t, h, "/sign-in").Body.String(), c.says)
			assert.Equal(t, http.StatusOK, get(t, h, "/logbook").Code, "reading is free")
			if c.says != "" {
				assert.Equal(t, http.StatusForbidden, send(h, "/sign-in", asForm, "password=walnut+and+beech").Code)
			}
		})
	}
}

// browserOf writes as a browser does, with the cookies that it was given.
type browserOf struct {
	t      *testing.T
	h      http.Handler
	cookie *http.Cookie
	base   string // of the address
}

func (b *browserOf) post(path, form string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, b.base+path, strings.NewReader(form))
	r.Header.Set("Content-Type", asForm)
	if b.cookie != nil {
		r.AddCookie(b.cookie)
	}
	w := httptest.NewRecorder()
	b.h.ServeHTTP(w, r)
	for _, c := range w.Result().Cookies() {
		if c.Name == sessionCookie {
			b.cookie = c
		}
	}
	return w
}

// writes tells whether it may.
func (b *browserOf) writes() bool {
	w := b.post("/api/v1/journal", "kind=check&by=Ann")
	assert.Equal(b.t, http.StatusSeeOther, w.Code)
	return !strings.HasPrefix(w.Header().Get("Location"), "/sign-in")
}

func TestSigningIn(t *testing.T) {
	_, h, clk := gatedFake(t, true, nil)
	b := &browserOf{t: t, h: h}
	w := b.post("/sign-in", "password=oak&to=/logbook")
	require.Equal(t, http.StatusForbidden, w.Code)
	assert.Contains(t, w.Body.String(), "not the shop’s password")
	assert.NotContains(t, w.Body.String(), "walnut")
	assert.Nil(t, b.cookie)

	w = b.post("/sign-in", "password=walnut+and+beech&to=//elsewhere.example.org")
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, "/", w.Header().Get("Location"), "it leads to no other site")
	assert.True(t, b.cookie.HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, b.cookie.SameSite)
	assert.Len(t, b.cookie.Value, 64)
	assert.False(t, b.cookie.Secure, "it would not be sent over a plain line")
	assert.True(t, b.writes())
	clk.Advance(sessionLasts)
	assert.False(t, b.writes(), "a session ends")
}

func TestSigningOutEndsTheSessionAndNotTheCookieAlone(t *testing.T) {
	_, h, _ := gatedFake(t, true, nil)
	b := &browserOf{t: t, h: h}
	b.post("/sign-in", "password=walnut+and+beech")
	held := *b.cookie
	require.True(t, b.writes())
	b.post("/sign-out", "")
	assert.Negative(t, b.cookie.MaxAge)
	b.cookie = &held
	assert.False(t, b.writes())
}

func TestOverTLSTheCookieIsForTLSAlone(t *testing.T) {
	_, h, _ := gatedFake(t, true, func(c *Config) { c.Gate.Plain = false })
	b := &browserOf{t: t, h: h, base: "https://board.example.org"}
	b.post("/sign-in", "password=walnut+and+beech")
	require.NotNil(t, b.cookie)
	assert.True(t, b.cookie.Secure)
	assert.True(t, b.writes())
	b.base = ""
	assert.Equal(t, http.StatusForbidden, b.post("/api/v1/journal", "kind=check&by=Ann").Code)
}

func TestOnlyAServerOnThisMachineIsBelievedThatItEncrypts(t *testing.T) {
	for peer, want := range map[string]bool{"127.0.0.1:9": true, "[::1]:9": true, "[::ffff:127.0.0.1]:9": true, "192.0.2.7:9": false, "": false} {
		r := httptest.NewRequest(http.MethodPost, "/", nil)
		r.RemoteAddr = peer
		r.Header.Set("X-Forwarded-Proto", "https")
		assert.Equal(t, want, encrypted(r), peer)
	}
}

func TestANewPasswordEndsSessionsAndTrust(t *testing.T) {
	var keys access.Folder
	_, h, _ := gatedFake(t, true, func(c *Config) { keys = c.Gate.Keys })
	in, wall := &browserOf{t: t, h: h}, &browserOf{t: t, h: h}
	in.post("/sign-in", "password=walnut+and+beech")
	wall.post("/sign-in", "password=walnut+and+beech&trust=yes&device=wall")
	require.True(t, in.writes())
	require.True(t, wall.writes())
	_, err := keys.SetPassword("oak and ash wood", nil)
	require.NoError(t, err)
	assert.False(t, in.writes())
	assert.False(t, wall.writes())
	assert.Equal(t, http.StatusSeeOther, in.post("/sign-in", "password=oak+and+ash+wood").Code, "without a restart")
}

func TestADeviceIsTrustedUntilItIsRevoked(t *testing.T) {
	var keys access.Folder
	f, h, clk := gatedFake(t, true, func(c *Config) { keys = c.Gate.Keys })
	wall, desk := &browserOf{t: t, h: h}, &browserOf{t: t, h: h}
	assert.Equal(t, http.StatusBadRequest, wall.post("/sign-in", "password=walnut+and+beech&trust=yes&device=+").Code, "without a name it would not be known again")
	wall.post("/sign-in", "password=walnut+and+beech&trust=yes&device=screen+at+the+saw")
	require.NotNil(t, wall.cookie)
	assert.Equal(t, int(trustLasts.Seconds()), wall.cookie.MaxAge)
	clk.Advance(5 * 365 * 24 * time.Hour)
	assert.True(t, wall.writes())
	assert.Equal(t, int(trustLasts.Seconds()), wall.cookie.MaxAge, "it is sent anew")

	// It outlasts the process.
	cfg := f.config()
	cfg.Gate = &Gate{Keys: keys, Plain: true}
	again, err := New(cfg)
	require.NoError(t, err)
	wall.h, desk.h = again, again
	assert.True(t, wall.writes())

	desk.post("/sign-in", "password=walnut+and+beech")
	r := httptest.NewRequest(http.MethodGet, "/sign-in", nil)
	r.AddCookie(desk.cookie)
	w := httptest.NewRecorder()
	again.ServeHTTP(w, r)
	assert.Contains(t, w.Body.String(), "screen at the saw")
	assert.NotContains(t, w.Body.String(), wall.cookie.Value)
	assert.NotContains(t, get(t, again, "/sign-in").Body.String(), "screen at the saw", "a stranger sees no list")
	id := access.TokenID(wall.cookie.Value)
	assert.Equal(t, http.StatusSeeOther, desk.post("/devices/"+id+"/revoke", "").Code)
	assert.False(t, wall.writes())
	assert.Equal(t, http.StatusNotFound, desk.post("/devices/"+id+"/revoke", "").Code)
}

func TestAProgramSendsThePasswordAlong(t *testing.T) {
	_, h, _ := gatedFake(t, true, nil)
	for password, want := range map[string]int{words: http.StatusCreated, "oak": http.StatusUnauthorized} {
		r := httptest.NewRequest(http.MethodPost, "/api/v1/journal", strings.NewReader(`{"kind":"check","by":"Ann"}`))
		r.Header.Set("Content-Type", "application/json")
		r.SetBasicAuth("shop", password)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		assert.Equal(t, want, w.Code, password)
	}
}

func TestPasswordsCannotBeTriedFast(t *testing.T) {
	_, h, clk := gatedFake(t, true, nil)
	for range freeTries {
		send(h, "/sign-in", asForm, "password=oak")
	}
	assert.Equal(t, http.StatusForbidden, send(h, "/sign-in", asForm, "password=walnut+and+beech").Code, "even the right one waits")
	clk.Advance(tryEvery + time.Second)
	assert.Equal(t, http.StatusSeeOther, send(h, "/sign-in", asForm, "password=walnut+and+beech").Code)
}

// TestOnePasswordIsHashedAtATime: who comes meanwhile waits, and goes away unanswered.
func TestOnePasswordIsHashedAtATime(t *testing.T) {
	s := newSessions(clock.NewVirtual(testNow))
	ctx, leave := context.WithCancel(t.Context())
	r := httptest.NewRequest(http.MethodPost, "/sign-in", nil).WithContext(ctx)
	by := access.Hash(strings.TrimSpace(hashOfWords))
	require.True(t, s.right(r, words, by))
	s.turn <- struct{}{}
	leave()
	assert.False(t, s.right(r, words, by))
	<-s.turn
}

// TestOneHostHasOneCount: an IPv6 host may take any address of its network.
func TestOneHostHasOneCount(t *testing.T) {
	s := newSessions(clock.NewVirtual(testNow))
	from := func(peer string) *http.Request { return &http.Request{RemoteAddr: peer} }
	for i := range freeTries {
		assert.True(t, s.take(from([]string{"[2001:db8::1]:1", "[2001:db8::2]:2"}[i%2])))
	}
	assert.False(t, s.take(from("[2001:db8::3]:3")))
	assert.True(t, s.take(from("[2001:db8:0:1::3]:3")))
	assert.True(t, s.take(from("192.0.2.1:1")))
	for range freeTries {
		s.take(from("192.0.2.2:1"))
	}
	assert.False(t, s.take(from("192.0.2.2:2")))
}

func TestTheOwnersChoiceOfAPlainLineStandsOnEveryPage(t *testing.T) {
	_, h, _ := gatedFake(t, true, nil)
	_, tight, _ := gatedFake(t, true, func(c *Config) { c.Gate.Plain = false })
	for _, path := range append(paths(), "/sign-in", "/nowhere") {
		assert.Contains(t, get(t, h, path).Body.String(), "not encrypted, as the owner chose", path)
		assert.NotContains(t, get(t, tight, path).Body.String(), "as the owner chose", path)
	}
}

package dashboard

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/clock"
)

func gatedFake(t *testing.T, password string) (*fake, http.Handler, *clock.Virtual) {
	t.Helper()
	f := newFake()
	cfg := f.config()
	clk := clock.NewVirtual(testNow)
	cfg.Clock, cfg.Gate = clk, &Gate{Password: password}
	h, err := New(cfg)
	require.NoError(t, err)
	return f, h, clk
}

// writes are a way to each thing that can be changed.
func writes(f *fake) map[string]string {
	at := "/api/v1/alarms/" + url.PathEscape(f.alarms[0].ID) + "/"
	out := map[string]string{"/api/v1/journal": "kind=check&by=Ann", at + "acknowledge": "by=Ann", "/api/v1/positions": "channel=gate/x&value=1",
		"/api/v1/test-letter": "by=Ann", "/sign-out": ""}
	for do := range asides {
		out[at+do] = "by=Ann&reason=x&hours=1&found=x&action=x"
	}
	return out
}

func TestNothingIsChangedWithoutThePassword(t *testing.T) {
	for _, password := range []string{"walnut and beech", ""} {
		f, h, _ := gatedFake(t, password)
		alarms, entries := f.List(), len(f.entries)
		for path, form := range writes(f) {
			w := send(h, path, asForm, form)
			if password == "" {
				assert.Equal(t, http.StatusForbidden, w.Code, path)
			} else {
				assert.Equal(t, http.StatusSeeOther, w.Code, path)
				assert.True(t, strings.HasPrefix(w.Header().Get("Location"), "/sign-in?to=%2F"), path)
				assert.Equal(t, http.StatusUnauthorized, send(h, path, asJSON, `{"by":"Ann"}`).Code, path)
			}
		}
		assert.Equal(t, alarms, f.List())
		assert.Len(t, f.entries, entries)
		for _, path := range paths() {
			assert.Equal(t, http.StatusOK, get(t, h, path).Code, "reading is free: %s", path)
		}
	}
}

func TestSigningIn(t *testing.T) {
	f, h, clk := gatedFake(t, "walnut and beech")
	w := send(h, "/sign-in", asForm, "password=oak&to=/logbook")
	require.Equal(t, http.StatusForbidden, w.Code)
	assert.Contains(t, w.Body.String(), "not the shop’s password")
	assert.NotContains(t, w.Body.String(), "walnut")

	w = send(h, "/sign-in", asForm, "password=walnut+and+beech&to=//elsewhere.example.org")
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, "/", w.Header().Get("Location"), "it leads to no other site")
	cookie := w.Result().Cookies()[0]
	assert.True(t, cookie.HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, cookie.SameSite)
	assert.Len(t, cookie.Value, 64)
	write := func() int {
		r := httptest.NewRequest(http.MethodPost, "/api/v1/journal", strings.NewReader("kind=check&by=Ann"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.AddCookie(cookie)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if strings.HasPrefix(w.Header().Get("Location"), "/sign-in") {
			return 0
		}
		return w.Code
	}
	before := len(f.entries)
	assert.Equal(t, http.StatusSeeOther, write())
	assert.Len(t, f.entries, before+1)
	clk.Advance(sessionLasts)
	assert.Zero(t, write(), "a session ends")
}

func TestAProgramSendsThePasswordAlong(t *testing.T) {
	_, h, _ := gatedFake(t, "walnut and beech")
	for password, want := range map[string]int{"walnut and beech": http.StatusCreated, "oak": http.StatusUnauthorized} {
		r := httptest.NewRequest(http.MethodPost, "/api/v1/journal", strings.NewReader(`{"kind":"check","by":"Ann"}`))
		r.Header.Set("Content-Type", "application/json")
		r.SetBasicAuth("shop", password)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		assert.Equal(t, want, w.Code, password)
	}
}

func TestPasswordsCannotBeTriedFast(t *testing.T) {
	_, h, clk := gatedFake(t, "walnut and beech")
	for range freeTries {
		send(h, "/sign-in", asForm, "password=oak")
	}
	assert.Equal(t, http.StatusForbidden, send(h, "/sign-in", asForm, "password=walnut+and+beech").Code, "even the right one waits")
	clk.Advance(tryEvery + time.Second)
	assert.Equal(t, http.StatusSeeOther, send(h, "/sign-in", asForm, "password=walnut+and+beech").Code)
}

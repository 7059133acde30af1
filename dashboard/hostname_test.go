package dashboard

import (
	"crypto/tls"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"
)

// askedAs is the answer to a look at a path under a name.
func askedAs(h http.Handler, host, path string, line *tls.ConnectionState) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.Host, r.TLS = host, line
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// TestANameThatWasMadeToPointHereIsNotAnswered (DNS rebinding), whether this machine alone reaches the pages or others do.
func TestANameThatWasMadeToPointHereIsNotAnswered(t *testing.T) {
	const yes, no = http.StatusOK, http.StatusMisdirectedRequest
	for host, want := range map[string]struct{ here, elsewhere int }{
		"localhost:8137":             {yes, yes},
		"LOCALHOST.":                 {yes, yes},
		"board.localhost:1":          {yes, yes},
		"127.0.0.1:8137":             {yes, yes},
		"127.9.9.9":                  {yes, yes},
		"[::1]:8137":                 {yes, yes},
		"[::1]":                      {yes, yes},
		"shop.example.org":           {yes, yes},
		"SHOP.example.org.:8137":     {yes, yes},
		"192.168.1.20:8137":          {no, yes},
		"[fd00::20]:8137":            {no, yes},
		"board.local:8137":           {no, yes},
		"Board.Local.":               {no, yes},
		"board.home.arpa":            {no, yes},
		"board":                      {no, no},
		"":                           {no, no},
		".":                          {no, no},
		"rebound.example.net:8137":   {no, no},
		"localhost.example.net":      {no, no},
		"board.local.example.net":    {no, no},
		"x.shop.example.org":         {no, no},
		"127.0.0.1.example.net":      {no, no},
		"192.168.1.20.example.net:1": {no, no},
		"xlocalhost":                 {no, no},
		"xlocal":                     {no, no},
		"xhome.arpa":                 {no, no},
	} {
		for loopback, code := range map[bool]int{true: want.here, false: want.elsewhere} {
			_, h, _ := gatedFake(t, false, func(c *Config) { c.Loopback, c.Names = loopback, []string{"Shop.example.org"} })
			for _, path := range []string{"/", "/api/v1/alarms", "/metrics", "/static/dash.css"} {
				assert.Equal(t, code, askedAs(h, host, path, nil).Code, "%q, loopback %t, %s", host, loopback, path)
			}
			assert.Equal(t, yes, askedAs(h, host, "/api/v1/alarms", &tls.ConnectionState{}).Code, "over TLS the browser has held the name against the certificate")
		}
	}
}

// TestWhoIsRefusedByNameIsToldWhatToDo, and nothing of the shop.
func TestWhoIsRefusedByNameIsToldWhatToDo(t *testing.T) {
	_, h, _ := gatedFake(t, false, func(c *Config) { c.Names = nil })
	w := askedAs(h, "rebound.example.net:8137", "/", nil)
	assert.Equal(t, "text/plain; charset=utf-8", w.Header().Get("Content-Type"))
	assert.Contains(t, w.Body.String(), `"rebound.example.net"`)
	assert.Contains(t, w.Body.String(), "by its number")
	assert.Contains(t, w.Body.String(), "--name")
	assert.NotContains(t, w.Body.String(), testShop().Name)
	assert.Equal(t, http.StatusMisdirectedRequest, send(h, "/api/v1/journal", asJSON, `{"kind":"check","by":"Eve"}`).Code, "nor is anything changed")
}

package dashboard

import (
	"fmt"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/dashboard/browsertest"
)

// TestSigningInOnAPhone: who writes is asked for the password, a wrong one is refused, the phone is trusted, and then its
// trust is taken away.
func TestSigningInOnAPhone(t *testing.T) {
	ctx := browsertest.Tab(t)
	access := rulesOfAccess(t)
	f, h, _ := gatedFake(t, true, nil)
	srv := httptest.NewServer(h)
	defer srv.Close()
	defer srv.CloseClientConnections()
	w := watchFor(t, ctx, strings.TrimPrefix(srv.URL, "http://"))
	must(t, ctx, log.Enable, cdp.Empty{})
	do := func(script string) {
		t.Helper()
		_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script+"; true"))
		require.NoError(t, err)
	}
	noted := func(say string) {
		t.Helper()
		do(`document.querySelector("[name=by]").value = "Ann"; document.querySelector("button[value=check]").click()`)
		browsertest.Until(t, ctx, fmt.Sprintf(`document.querySelector("main").textContent.includes(%q)`, say))
	}
	entries := len(f.entries)
	open(t, ctx, srv.URL+"/logbook", looks[0])
	noted("whoever changes something signs in first")
	assert.Len(t, f.entries, entries)
	do(`document.querySelector("[name=password]").value = "oak"; document.querySelector("main form button").click()`)
	browsertest.Until(t, ctx, `!!document.querySelector("[role=alert]")`)
	assert.Equal(t, []string{"log: Failed to load resource: the server responded with a status of 403 (Forbidden) " + srv.URL + "/sign-in"}, w.take())

	sound := func(name string, l look) {
		t.Helper()
		lookAt(t, ctx, w, srv.URL+"/sign-in", l, name+"-"+l.name)
		do(`document.querySelectorAll("main details").forEach(d => d.open = true)`)
		if l.still {
			access.judge(t, ctx, true)
		}
	}
	sound("stranger", looks[0])
	open(t, ctx, srv.URL+"/sign-in?to=/logbook", looks[0])
	do(`const f = document.querySelector("details form"); f.closest("details").open = true; f.device.value = "Ann’s phone"; f.password.value = "walnut and beech"; f.trust.click()`)
	browsertest.Until(t, ctx, `location.pathname === "/logbook"`)
	noted("Written down")
	assert.Len(t, f.entries, entries+1)
	for _, l := range looks {
		sound("trusted", l)
	}
	do(`document.querySelector("form[action^='/devices'] button").click()`)
	browsertest.Until(t, ctx, `document.querySelector("main").textContent.includes("whoever changes something signs in first")`)
}

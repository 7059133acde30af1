package dashboard

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/dashboard/browsertest"
	"ductward/internal/finding"
	"ductward/internal/watch"
)

// TestAHuntOnThePhone: each step on a dark phone and on a narrow one; the page follows the watch without being loaded again, and
// leaves alone what somebody is typing.
func TestAHuntOnThePhone(t *testing.T) {
	ctx := browsertest.Tab(t)
	f := huntingFake(false, 0, "tenoner", "edge sander")
	srv := httptest.NewServer(f.handler(t))
	defer srv.Close()
	defer srv.CloseClientConnections()
	w := watchFor(t, ctx, strings.TrimPrefix(srv.URL, "http://"))
	must(t, ctx, log.Enable, cdp.Empty{})
	must(t, ctx, network.Enable, network.EnableParams{})
	found := huntingFake(false, 0, "panel saw")
	found.collector().NextTest = nil
	found.collector().Findings[0].Where = []finding.Place{{Part: "run:trunk 5", Probability: 0.94}, {Part: "other", Probability: 0.06}}
	steps := map[string]*watch.Snapshot{"ready": f.snap, "move": huntingFake(true, 0, "tenoner", "edge sander").snap,
		"measure": huntingFake(true, 80*time.Second, "panel saw").snap, "found": found.snap}
	for name, s := range steps {
		f.set(s)
		for _, l := range []look{looks[3], looks[2]} {
			lookAt(t, ctx, w, srv.URL+"/hunt", l, "hunt-"+name+"-"+l.name)
		}
	}

	f.set(steps["ready"])
	for _, path := range []string{"/", "/leaks"} { // what is due, and the way to the hunt
		lookAt(t, ctx, w, srv.URL+path, looks[0], "hunt-from-"+strings.Trim(path, "/"))
	}

	f.set(steps["move"])
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(srv.URL+"/hunt")))
	browsertest.Until(t, ctx, `document.querySelector(".hunt-do").textContent === "Move these, and nothing else."`)
	_, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("[name=by]").value = "M. Hal"`))
	require.NoError(t, err)
	f.set(steps["measure"])
	browsertest.Until(t, ctx, `document.querySelector("progress")?.value === 80`)
	browsertest.Until(t, ctx, `document.getElementById("say").textContent === "Leave everything as it is."`)
	f.set(found.snap)
	browsertest.Until(t, ctx, `document.querySelector(".hunt-do").textContent === "Look here: Seam of trunk 5."`)
	name, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("[name=by]").value`))
	require.NoError(t, err)
	assert.Equal(t, "M. Hal", name)
	assert.Empty(t, w.take())
}

package dashboard

import (
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/dashboard/browsertest"
	"ductward/internal/watch"
)

func TestTheWalkGoesOnByItself(t *testing.T) {
	ctx := browsertest.Tab(t)
	f := scenes()["walk"]
	srv := httptest.NewServer(f.handler(t))
	defer srv.Close()
	w := watchFor(t, ctx, strings.TrimPrefix(srv.URL, "http://"))
	must(t, ctx, log.Enable, cdp.Empty{})
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(srv.URL+"/setup/baseline?c=main")))
	next := *f.snap
	next.Collectors = append([]watch.Collector(nil), f.snap.Collectors...)
	next.Collectors[0].Now.Stands = stepTime
	f.set(&next)
	browsertest.Until(t, ctx, `document.querySelector(".step h2").textContent.includes("tenoner alone")`)
	said, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.getElementById("say").textContent`))
	require.NoError(t, err)
	assert.Contains(t, said, "to do", "the next step is read out")
	assert.Empty(t, w.take())
}

// TestDrawingOverAChartLooksCloser: the span that was drawn is in the address, for all charts of the page.
func TestDrawingOverAChartLooksCloser(t *testing.T) {
	ctx := browsertest.Tab(t)
	srv := httptest.NewServer(newFake().handler(t))
	defer srv.Close()
	w := watchFor(t, ctx, strings.TrimPrefix(srv.URL, "http://"))
	must(t, ctx, log.Enable, cdp.Empty{})
	must(t, ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 1280, Height: 900, DeviceScaleFactor: 1})
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(srv.URL+"/history?ch=main%2Ftrunk&ch=main%2Fpitot&from=2026-11-25T08:00:00&to=2026-11-25T14:00:00")))
	browsertest.Until(t, ctx, settled)
	box, err := chromedp.Run(ctx, chromedp.Evaluate[[]float64](`(() => { const r = document.querySelector("[data-zoom]").getBoundingClientRect(); return [r.left, r.top, r.width, r.height]; })()`))
	require.NoError(t, err)
	plotLeft, plotWidth, y := box[0]+64, box[2]-84, box[1]+box[3]/2 // the margins of plot.Options
	mouse := func(kind input.DispatchMouseEventType, share float64) {
		must(t, ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: plotLeft + share*plotWidth, Y: y, Button: input.MouseButtonLeft, Buttons: 1, ClickCount: 1})
	}
	mouse(input.DispatchMouseEventTypeMousePressed, 0.25)
	mouse(input.DispatchMouseEventTypeMouseMoved, 0.4)
	mouse(input.DispatchMouseEventTypeMouseReleased, 0.5)
	browsertest.Until(t, ctx, `!location.search.includes("T08") && `+settled)
	address, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.href`))
	require.NoError(t, err)
	u, err := url.Parse(address)
	require.NoError(t, err)
	assert.Equal(t, []string{"main/trunk", "main/pitot"}, u.Query()["ch"])
	for key, want := range map[string]time.Duration{"from": 9*time.Hour + 30*time.Minute, "to": 11 * time.Hour} {
		at, err := time.Parse(exactTime, u.Query().Get(key))
		require.NoError(t, err, address)
		assert.InDelta(t, want.Minutes(), float64(at.Hour()*60+at.Minute()), 2, "%s: minutes of the day, to a dot of the screen: %s", key, address)
	}
	assert.Empty(t, w.take())
}

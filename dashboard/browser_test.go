package dashboard

import (
	"context"
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/dashboard/browsertest"
	"ductward/internal/shop"
)

func TestMain(m *testing.M) {
	code := m.Run()
	browsertest.Stop()
	os.Exit(code)
}

// shoot keeps a picture of the whole page in the folder that DASHBOARD_SHOTS names, if it names one.
func shoot(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("DASHBOARD_SHOTS")
	if dir == "" {
		return
	}
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), picture, 0o600))
}

// witness notes what a page must not do.
type witness struct {
	mu       sync.Mutex
	troubles []string
}

func (w *witness) note(text string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.troubles = append(w.troubles, text)
}

// take returns what was noted and forgets it.
func (w *witness) take() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := w.troubles
	w.troubles = nil
	return out
}

// watchFor listens for errors on the console and for requests to any other host.
func watchFor(tb testing.TB, ctx context.Context, host string) *witness {
	tb.Helper()
	w := &witness{}
	require.NoError(tb, chromedp.Listen(ctx, func(ev any) {
		switch e := ev.(type) {
		case *runtime.EventConsoleAPICalled:
			if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
				w.note(fmt.Sprintf("console: %s", e.Args[0].Value))
			}
		case *runtime.EventExceptionThrown:
			w.note("exception: " + e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
				w.note("log: " + e.Entry.Text + " " + e.Entry.URL)
			}
		case *network.EventRequestWillBeSent:
			if u, err := url.Parse(e.Request.URL); err != nil || u.Host != host && u.Scheme != "data" && u.Scheme != "about" {
				w.note("request: " + e.Request.URL)
			}
		}
	}))
	return w
}

// look is one size and scheme to look at.
type look struct {
	name   string
	width  int64
	height int64
	dark   bool
	still  bool // less motion is asked for
}

var looks = []look{{"phone", 390, 844, false, true}, {"wall", 1920, 1080, false, false}, {"dark", 390, 844, true, true}, {"narrow", 320, 640, false, false}}

// settled waits until every chart stands; a page without charts is settled at once.
const settled = `document.readyState === "complete" && [...document.querySelectorAll("[data-chart]")].every(b => b.dataset.ready === "yes")`

// overflow lists what sticks out to the right, but for what scrolls in its own box.
const overflow = `(() => { const w = document.documentElement.clientWidth; const out = [];
 if (document.documentElement.scrollWidth > w) out.push("page " + document.documentElement.scrollWidth + " > " + w);
 for (const e of document.querySelectorAll("body *")) { if (e.closest(".scroll") || e.closest("svg") || e.closest(".unseen, .skip")) continue;
  const r = e.getBoundingClientRect(); if (r.width > 0 && r.right > w + 1) out.push(e.tagName + "." + e.className + " " + Math.round(r.right)); }
 return out.slice(0, 5); })()`

// hidden lists tables that keep a column out of sight to the right on a phone, though they scroll: nothing says so there.
// Tables of numbers that were asked for under a chart may be wide.
const hidden = `(() => { const out = []; if (document.documentElement.clientWidth > 599) return out;
 for (const e of document.querySelectorAll(".scroll")) { if (e.closest("details") || !e.clientWidth) continue;
  if (e.scrollWidth > e.clientWidth + 1) out.push(e.getAttribute("aria-label") + " " + e.scrollWidth + " > " + e.clientWidth); }
 return out.slice(0, 5); })()`

// small lists links, buttons and fields that a gloved hand would miss: under 44 px high, but for links within a text.
const small = `(() => { const out = []; for (const e of document.querySelectorAll("a, button, input, select, textarea, summary")) {
 const r = e.getBoundingClientRect(); if (!r.height || e.closest("p.made, .skip, svg") || e.matches(".skip")) continue;
 const box = e.type === "checkbox" ? e.closest("label").getBoundingClientRect() : r;
 if (box.height < 43.5) out.push(e.tagName + " " + e.textContent.slice(0, 20) + " " + Math.round(box.height)); } return out.slice(0, 5); })()`

// cut lists letters of the drawing that leave its frame.
const cut = `(() => { const out = []; for (const t of document.querySelectorAll("svg.drawing text, svg.still text")) {
 const s = t.closest("svg").getBoundingClientRect(); const r = t.getBoundingClientRect(); if (!r.width) continue;
 if (r.left < s.left - 1 || r.right > s.right + 1 || r.top < s.top - 1 || r.bottom > s.bottom + 1) out.push(t.textContent); } return out.slice(0, 5); })()`

// TestPagesInABrowser walks every page in every state of the shop at every size, and holds those that are looked at with less
// motion to the rules of access. A full working day is held to them on the wall too, and to those of axe-core.
func TestPagesInABrowser(t *testing.T) {
	ctx := browsertest.Tab(t)
	access := rulesOfAccess(t)
	all := scenes()
	all["demo-shop"] = fromFile(t, "../hardware/rig/shop.yaml", "tenoner", "edge sander")
	all["inch-pound"] = newFake()
	all["inch-pound"].shop.Site.Units = shop.InchPound
	all["ring"] = fromFile(t, "../testdata/shops/ring-main.yaml")
	all["two-files"] = fromFile(t, "../testdata/shops/two-collectors.yaml")
	for scene, f := range all {
		srv := httptest.NewServer(f.handler(t))
		tab, cancel := chromedp.NewContext(ctx)
		host := strings.TrimPrefix(srv.URL, "http://")
		w := watchFor(t, tab, host)
		must(t, tab, log.Enable, cdp.Empty{})
		must(t, tab, network.Enable, network.EnableParams{})
		for _, l := range looks {
			for _, path := range worth(scene, l) {
				t.Run(scene+"/"+l.name+path, func(t *testing.T) {
					lookAt(t, tab, w, srv.URL+path, l, scene+"-"+l.name+"-"+strings.ReplaceAll(strings.Trim(path, "/"), "/", "-"))
					if day := scene == "work"; l.still || day && l.name == "wall" {
						access.judge(t, tab, day)
					}
				})
			}
		}
		require.NoError(t, chromedp.Do(tab, chromedp.Navigate("about:blank")))
		cancel()
		srv.CloseClientConnections()
		srv.Close()
	}
}

// worth lists the pages to look at: all where everything is there, nothing is or all is at fault; elsewhere those that
// draw.
func worth(scene string, l look) []string {
	switch {
	case scene == "work":
		return paths()
	case scene == "walk":
		return []string{"/setup", "/setup/baseline"}
	case l.name == "dark" || l.name == "narrow":
		return nil
	case scene == "empty" || scene == "faults":
		return paths()
	case scene == "demo-shop":
		return []string{"/", "/ducts", "/ducts?try=main&open=tenoner&open=bench+saw"}
	case scene == "two" && l.name == "phone":
		return []string{"/", "/ducts", "/setup", "/setup/baseline"}
	}
	return []string{"/", "/ducts"}
}

// lookAt opens a page, keeps a picture of all of it if asked to, and asks for what must not be.
func lookAt(t *testing.T, ctx context.Context, w *witness, address string, l look, name string) {
	t.Helper()
	w.take()
	open(t, ctx, address, l)
	sticks, misses, lost := ask(t, ctx, overflow), ask(t, ctx, small), ask(t, ctx, cut)
	kept := ask(t, ctx, hidden)
	shoot(t, ctx, name)
	assert.Empty(t, w.take(), "errors or requests to other hosts")
	assert.Empty(t, sticks, "sticks out to the right")
	assert.Empty(t, kept, "columns out of sight")
	assert.Empty(t, misses, "too small to hit")
	assert.Empty(t, lost, "letters outside their picture")
}

// open opens a page and waits until its charts stand.
func open(t *testing.T, ctx context.Context, address string, l look) {
	t.Helper()
	scheme, motion := "light", "no-preference"
	if l.dark {
		scheme = "dark"
	}
	if l.still {
		motion = "reduce"
	}
	must(t, ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: l.width, Height: l.height, DeviceScaleFactor: 1, Mobile: l.width < 600})
	must(t, ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: motion}}})
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address)))
	browsertest.Until(t, ctx, settled)
}

// ask runs one of the questions above in the page.
func ask(t *testing.T, ctx context.Context, question string) []string {
	t.Helper()
	return browsertest.Ask[[]string](t, ctx, question)
}

// must sends one command of the browser's protocol.
func must[P, R any](tb testing.TB, ctx context.Context, cmd cdp.Command[P, R], params P) {
	tb.Helper()
	_, err := chromedp.Call(ctx, cmd, params)
	require.NoError(tb, err)
}

func TestNowPageIsLive(t *testing.T) {
	ctx := browsertest.Tab(t)
	f := newFake()
	srv := httptest.NewServer(f.handler(t))
	defer srv.Close()
	defer srv.CloseClientConnections()
	w := watchFor(t, ctx, strings.TrimPrefix(srv.URL, "http://"))
	must(t, ctx, log.Enable, cdp.Empty{})
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(srv.URL)))
	shows := func(word string) {
		t.Helper()
		browsertest.Until(t, ctx, fmt.Sprintf(`document.querySelector(".word").textContent === %q`, word))
	}
	shows("act today")
	good := testSnapshot()
	good.Collectors[0].Findings, good.Collectors[0].Now = nil, testAir("bench saw")
	f.set(good)
	shows("good")
	assert.Empty(t, w.take())
	said, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.getElementById("say").textContent`))
	require.NoError(t, err)
	assert.Contains(t, said, "Bench saw has the air it needs.", "the change is read out")
}

func TestPagesReadWithoutScriptAndOnPaper(t *testing.T) {
	ctx := browsertest.Tab(t)
	srv := httptest.NewServer(newFake().handler(t))
	defer srv.Close()
	must(t, ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	read := []string{"/", "/filter", "/leaks", "/history", "/hunt"}
	for media, width := range map[string]int64{"": 390, "print": 794} {
		must(t, ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: 1100, DeviceScaleFactor: 1})
		must(t, ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media})
		for _, path := range paths() {
			draws := slices.Contains(read, path)
			if media == "" && !draws {
				continue
			}
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(srv.URL+path)))
			if draws {
				stills := ask(t, ctx, `[...document.querySelectorAll(".chart .still, .drawing")].filter(e => e.getBoundingClientRect().width > 100).map(e => e.className.baseVal)`)
				assert.NotEmpty(t, stills, path+": a picture stands without the script")
			}
			assert.Empty(t, ask(t, ctx, overflow), path)
			if media == "print" {
				assert.Empty(t, ask(t, ctx, pressed), "%s: on paper nothing can be pressed", path)
			}
			shoot(t, ctx, "still-"+media+strings.ReplaceAll(strings.Trim(path, "/"), "/", "-"))
		}
	}
}

// pressed lists what is there to be pressed or filled in.
const pressed = `[...document.querySelectorAll("button, .button, input, select, textarea, summary:not(.told > *)")].filter(e => e.getClientRects().length).map(e => e.tagName + " " + e.textContent.slice(0, 30)).slice(0, 5)`

// The record for an examiner becomes a PDF of several pages.
func TestThePackAsPDF(t *testing.T) {
	ctx := browsertest.Tab(t)
	srv := httptest.NewServer(newFake().handler(t))
	defer srv.Close()
	must(t, ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 390, Height: 844, DeviceScaleFactor: 1})
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(srv.URL+"/pack?from=2026-11-01&to=2026-11-25")))
	assert.Empty(t, ask(t, ctx, overflow))
	assert.Empty(t, ask(t, ctx, hidden))
	out, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PrintBackground: new(true), PreferCSSPageSize: new(true)})
	require.NoError(t, err)
	pdf := out.Data
	assert.True(t, strings.HasPrefix(string(pdf), "%PDF-"))
	assert.GreaterOrEqual(t, strings.Count(string(pdf), "/Type /Page\n"), 2, "the drawing has a page of its own")
	if dir := os.Getenv("DASHBOARD_SHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "pack.pdf"), pdf, 0o600))
	}
}

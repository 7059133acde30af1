package dashboard

import (
	"context"
	"fmt"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestEveryPageKeepsTheRulesOfAccess walks every page at a phone's and a desk's size, light and dark, with less motion asked
// for, and holds it to what a script can judge of WCAG 2.2 (testdata/accessible.js names each criterion), and on a full working
// day to what axe-core finds.
func TestEveryPageKeepsTheRulesOfAccess(t *testing.T) {
	ctx := browser(t)
	rules, err := os.ReadFile("testdata/accessible.js")
	require.NoError(t, err)
	engine := axeEngine(t)
	for _, scene := range []string{"work", "walk", "two", "faults", "empty"} {
		srv := httptest.NewServer(scenes()[scene].handler(t))
		for i, l := range []look{{"phone", 390, 844, false}, {"desk", 1280, 800, true}} {
			for _, path := range paths() {
				if i > 0 && scene != "work" || (scene == "walk" || scene == "two") && !strings.HasPrefix(path, "/setup") {
					continue // the same marks have been seen
				}
				t.Run(scene+"/"+l.name+path, func(t *testing.T) {
					open(t, ctx, srv.URL+path, l)
					assert.Empty(t, ask(t, ctx, string(rules)))
					if scene == "work" {
						assert.Empty(t, axe(t, ctx, engine))
					}
					assert.Empty(t, ask(t, ctx, spaced+overflow), "1.4.12 Text Spacing")
				})
			}
		}
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
		srv.CloseClientConnections()
		srv.Close()
	}
}

// spaced sets the spacing of letters, words, lines and paragraphs that WCAG 2.2, 1.4.12 names, as a reader may.
const spaced = `{ const s = new CSSStyleSheet(); s.replaceSync("* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important } p { margin-bottom: 2em !important }");
 document.adoptedStyleSheets = [s]; };` + "\n"

// TestTheRulesFindWhatIsWrong: a rule that finds nothing in a page that breaks it proves nothing elsewhere.
func TestTheRulesFindWhatIsWrong(t *testing.T) {
	ctx := browser(t)
	rules, err := os.ReadFile("testdata/accessible.js")
	require.NoError(t, err)
	srv := httptest.NewServer(newFake().handler(t))
	defer srv.Close()
	defer srv.CloseClientConnections()
	engine := axeEngine(t)
	for rule, mistake := range map[string]string{
		"1.1.1":  `document.querySelector("main").insertAdjacentHTML("beforeend", "<svg width=20 height=20></svg>")`,
		"1.3.1":  `document.querySelector("main").insertAdjacentHTML("beforeend", "<table><tr><th>a</th></tr></table>")`,
		"1.4.3":  `document.querySelector(".lead").style.color = "#999"`,
		"1.4.11": `document.querySelector("button, a.button").style.borderColor = "#ddd"`,
		"2.1.1":  `document.querySelector("main").insertAdjacentHTML("beforeend", "<div id=wide>" + "wide ".repeat(400) + "</div>"); wide.style.cssText = "white-space:nowrap;overflow-x:auto"`,
		"2.3.3":  `document.querySelector(".lead").style.transition = "color 1s"`,
		"2.4.2":  `document.title = ""`,
		"2.4.3":  `document.querySelector("main button").tabIndex = 3`,
		"2.4.4":  `document.querySelector("main").insertAdjacentHTML("beforeend", '<p><a href="/a">more</a> <a href="/b">more</a></p>')`,
		"2.5.8":  `document.querySelector("button, a.button").style.cssText = "min-height:0;height:12px;padding:0;line-height:1"`,
		"3.1.1":  `document.documentElement.lang = ""`,
		"3.3.2":  `document.querySelector("main").insertAdjacentHTML("beforeend", "<p><input></p>")`,
		"4.1.2":  `document.querySelector("main").insertAdjacentHTML("beforeend", "<p><button></button></p>")`,
	} {
		open(t, ctx, srv.URL+"/logbook", looks[0])
		require.Empty(t, ask(t, ctx, string(rules)), "before the mistake")
		found := ask(t, ctx, mistake+";\n"+string(rules))
		require.NotEmpty(t, found, rule)
		assert.Equal(t, rule, strings.Fields(found[0])[0], found)
		if engine != "" && (rule == "1.4.3" || rule == "4.1.2") {
			assert.NotEmpty(t, axe(t, ctx, engine), "axe-core finds it too")
		}
	}
}

// open opens a page as somebody does who asks for less motion, and waits until its charts stand.
func open(t *testing.T, ctx context.Context, address string, l look) {
	t.Helper()
	scheme := "light"
	if l.dark {
		scheme = "dark"
	}
	must(t, ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: l.width, Height: l.height, DeviceScaleFactor: 1, Mobile: l.width < 600})
	must(t, ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address)))
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](settled, chromedp.WithPollingTimeout(20*time.Second)))
	require.NoError(t, err, "charts not drawn")
}

// reachable is what the keyboard must reach, in the order of the page.
const reachable = `[...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")].filter(e =>
 e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length && !e.disabled)`

// focused says where among them the focus is, whether it can be seen (2.4.7), and whether the bar at the thumb hides it
// (2.4.11).
const focused = `(() => { const e = document.activeElement, s = getComputedStyle(e), r = e.getBoundingClientRect();
 const bar = document.querySelector("nav.thumb"), b = bar && !bar.contains(e) && getComputedStyle(bar).display !== "none" ? bar.getBoundingClientRect().top : innerHeight;
 return [String(` + reachable + `.indexOf(e)), s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 ? "seen" : "unseen", r.top < b - 1 && r.bottom > 0 ? "clear" : "hidden"]; })()`

// mostFields is how many stops one control has at most: a field for a moment has one for each of its numbers.
const mostFields = 8

// TestTheKeyboardReachesEverything in the order of the page (2.1.1, 2.4.3), with a focus that can be seen (2.4.7) and that
// nothing covers (2.4.11); the first stop leads past the navigation (2.4.1).
func TestTheKeyboardReachesEverything(t *testing.T) {
	ctx := browser(t)
	srv := httptest.NewServer(newFake().handler(t))
	defer srv.Close()
	defer srv.CloseClientConnections()
	for _, path := range []string{"/", "/history", "/logbook", "/setup"} {
		t.Run(path, func(t *testing.T) {
			open(t, ctx, srv.URL+path, looks[0])
			stops := ask(t, ctx, reachable+`.map(e => e.tagName + " " + e.textContent.trim().slice(0, 20))`)
			require.Greater(t, len(stops), 10)
			assert.Contains(t, stops[0], "To the content")
			for i, stop := range stops {
				var at []string
				for range mostFields {
					tab(t, ctx)
					if at = ask(t, ctx, focused); at[0] != fmt.Sprint(i-1) {
						break
					}
				}
				require.Equal(t, []string{fmt.Sprint(i), "seen", "clear"}, at, "stop %d of %d: %s", i, len(stops), stop)
			}
		})
	}
}

// tab presses the key once.
func tab(t *testing.T, ctx context.Context) {
	t.Helper()
	for _, kind := range []input.DispatchKeyEventType{input.DispatchKeyEventTypeRawKeyDown, input.DispatchKeyEventTypeKeyUp} {
		must(t, ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: kind, Key: "Tab", Code: "Tab", WindowsVirtualKeyCode: 9})
	}
}

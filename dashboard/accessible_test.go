package dashboard

import (
	"context"
	"fmt"
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/dashboard/browsertest"
)

// accessRules is what every page is held to of what a script can judge of WCAG 2.2.
type accessRules struct {
	own    string // testdata/accessible.js, which names each criterion
	engine string // axe-core; "" where it was not fetched
}

func rulesOfAccess(t *testing.T) accessRules {
	t.Helper()
	own, err := os.ReadFile("testdata/accessible.js")
	require.NoError(t, err)
	return accessRules{string(own), axeEngine(t)}
}

// judge holds the page that is open to the rules, all of it to our own and, if asked to, to axe-core's. It leaves the page
// spaced apart.
func (a accessRules) judge(t *testing.T, ctx context.Context, both bool) {
	t.Helper()
	assert.Empty(t, ask(t, ctx, a.own))
	if both {
		assert.Empty(t, axe(t, ctx, a.engine))
	}
	assert.Empty(t, ask(t, ctx, spaced+overflow), "1.4.12 Text Spacing")
}

// spaced sets the spacing of letters, words, lines and paragraphs that WCAG 2.2, 1.4.12 names, as a reader may.
const spaced = `{ const s = new CSSStyleSheet(); s.replaceSync("* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important } p { margin-bottom: 2em !important }");
 document.adoptedStyleSheets = [s]; };` + "\n"

// TestTheRulesFindWhatIsWrong: a rule that finds nothing in a page that breaks it proves nothing elsewhere.
func TestTheRulesFindWhatIsWrong(t *testing.T) {
	ctx := browsertest.Tab(t)
	access := rulesOfAccess(t)
	srv := httptest.NewServer(newFake().handler(t))
	defer srv.Close()
	defer srv.CloseClientConnections()
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
		require.Empty(t, ask(t, ctx, access.own), "before the mistake")
		found := ask(t, ctx, mistake+";\n"+access.own)
		require.NotEmpty(t, found, rule)
		assert.Equal(t, rule, strings.Fields(found[0])[0], found)
		if access.engine != "" && (rule == "1.4.3" || rule == "4.1.2") {
			assert.NotEmpty(t, axe(t, ctx, access.engine), "axe-core finds it too")
		}
	}
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
	ctx := browsertest.Tab(t)
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

// TestTheStateWordIsReadAcrossTheShop: on a screen of 1920 dots and 600 mm its letters are 40 mm high, which is 128 dots, and it
// stands beside its sentence without scrolling.
func TestTheStateWordIsReadAcrossTheShop(t *testing.T) {
	ctx := browsertest.Tab(t)
	for scene, word := range map[string]string{"work": "act today", "faults": "cannot tell", "good": "good"} {
		srv := httptest.NewServer(scenes()[scene].handler(t))
		open(t, ctx, srv.URL, looks[1])
		got := browsertest.Ask[[]float64](t, ctx, `(() => { const e = document.querySelector(".word span"), c = document.createElement("canvas").getContext("2d"), s = getComputedStyle(e);
 c.font = s.fontWeight + " " + s.fontSize + " " + s.fontFamily; const m = c.measureText("d"); return [m.actualBoundingBoxAscent, e.getBoundingClientRect().bottom]; })()`)
		assert.GreaterOrEqual(t, got[0], 128.0, "dots of %q", word)
		assert.Less(t, got[1], 1080.0)
		assert.Equal(t, word, browsertest.Ask[string](t, ctx, `document.querySelector(".word").textContent`))
		must(t, ctx, page.Navigate, page.NavigateParams{URL: "about:blank"})
		srv.CloseClientConnections()
		srv.Close()
	}
}

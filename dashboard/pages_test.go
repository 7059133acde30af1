package dashboard

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// get asks for a path.
func get(tb testing.TB, h http.Handler, path string) *httptest.ResponseRecorder {
	tb.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

// paths are the addresses of all pages.
func paths() []string {
	var out []string
	for _, p := range sitePages {
		out = append(out, strings.TrimSuffix(p.Path, "{$}"))
	}
	return out
}

// abroad finds an address on any other host. The one that an SVG file must name is its own namespace, which nobody
// fetches.
var abroad = regexp.MustCompile(`(?i)(https?:)?//[a-z0-9.-]+\.[a-z]{2,}`)

func TestEveryPageInEveryScene(t *testing.T) {
	for name, f := range scenes() {
		h := f.handler(t)
		for _, path := range paths() {
			t.Run(name+path, func(t *testing.T) {
				w := get(t, h, path)
				require.Equal(t, http.StatusOK, w.Code, w.Body.String())
				body := w.Body.String()
				assert.Empty(t, abroad.FindString(body), "address of another host")
				for _, bad := range []string{"NaN", "Inf", "ZgotmplZ", "<no value>", "%!", "style=", "onclick", "javascript:", "0001"} {
					assert.NotContains(t, body, bad)
				}
				assert.Contains(t, body, "not a safety instrument")
				assert.Equal(t, 1, strings.Count(body, "<main"), "one main")
				assert.Less(t, len(body), 150_000, "bytes of a page beside the chart script")
				assert.Equal(t, contentPolicy, w.Header().Get("Content-Security-Policy"))
			})
		}
	}
}

// TestEveryChartHasItsTableAndOneSentence, or says why it is empty.
func TestEveryChartHasItsTableAndOneSentence(t *testing.T) {
	charts := 0
	for name, f := range scenes() {
		h := f.handler(t)
		for _, path := range paths() {
			_, rest, _ := strings.Cut(get(t, h, path).Body.String(), `<figure class="chart">`)
			for rest != "" {
				var figure string
				figure, rest, _ = strings.Cut(rest, "</figure>")
				_, rest, _ = strings.Cut(rest, `<figure class="chart">`)
				charts++
				sentence, empty := `<p>[^<]+\.</p></figcaption>`, strings.Contains(figure, `<p class="note hatched">`)
				if empty { // then the sentence says why
					sentence = `.*</figcaption>\s*<p class="note hatched"><span>[^<]+\.</span></p>`
				}
				assert.Regexp(t, `<figcaption><h2>[^<]+\?</h2>`+sentence, figure, "%s%s: a question, and a sentence", name, path)
				assert.NotEqual(t, empty, strings.Contains(figure, "data-chart"), "%s%s", name, path)
				assert.True(t, empty || strings.Contains(figure, "<table>"), "%s%s: a table", name, path)
			}
		}
	}
	assert.Greater(t, charts, 20)
}

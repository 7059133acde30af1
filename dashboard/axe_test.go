package dashboard

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// axeFile is where npm ci puts axe-core, an engine that judges pages by WCAG. It is for tests alone.
const axeFile = "testdata/axe/node_modules/axe-core/axe.min.js"

// axeEngine returns the engine's script; "" with a test that says it was skipped where it was not fetched.
func axeEngine(t *testing.T) string {
	t.Helper()
	script, err := os.ReadFile(axeFile)
	if errors.Is(err, fs.ErrNotExist) {
		t.Run("axe", func(t *testing.T) {
			t.Skip("axe-core is not here, so the pages are not held against it: run npm ci in dashboard/testdata/axe")
		})
		return ""
	}
	require.NoError(t, err)
	return string(script)
}

// axeRun asks for what breaks a criterion of WCAG 2.2, level A or AA, with what the engine says of it. The engine is put into
// the page by the debugger, which a page's policy does not bind, and the policy stays as it is.
const axeRun = `axe.run(document, {resultTypes: ["violations"], runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}})
 .then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + " (" + v.tags.filter(t => /^wcag\d{3,}/.test(t)) + "): " + n.target + ": " + n.failureSummary.replace(/\s+/g, " "))))`

// axe asks the engine about the page that is open.
func axe(t *testing.T, ctx context.Context, engine string) []string {
	t.Helper()
	if engine == "" {
		return nil
	}
	out, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](engine+";\n"+axeRun, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	return out
}

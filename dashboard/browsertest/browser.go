// Package browsertest is the browser with which tests look at the pages. It is for tests alone.
package browsertest

import (
	"context"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// program is where Debian puts the browser.
const program = "/usr/bin/chromium"

// chrome is the browser that all tests of a package share: to start one takes longer than to look at a page.
var chrome struct {
	once sync.Once
	ctx  context.Context
	stop func()
	err  error
}

// start starts the browser with a profile of its own and nothing that asks the outside.
func start() {
	profile, err := os.MkdirTemp("", "dashboard-browser-")
	if chrome.err = err; err != nil {
		return
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(profile), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("no-first-run", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("no-proxy-server", true), chromedp.Flag("hide-scrollbars", false))
	ctx, end := chromedp.NewExecAllocator(context.Background(), opts...)
	chrome.ctx, _ = chromedp.NewContext(ctx)
	chrome.stop = func() {
		end()
		_ = os.RemoveAll(profile) // the browser may still write to it; what is left lies in the temporary folder
	}
	chrome.err = chromedp.Do(chrome.ctx)
}

// Tab opens a tab for the test, whose cookies and settings are its own. Without a browser the test is skipped.
func Tab(tb testing.TB) context.Context {
	tb.Helper()
	if _, err := os.Stat(program); err != nil {
		tb.Skipf("no browser at %s, so the pages are not looked at: %v", program, err)
	}
	chrome.once.Do(start)
	require.NoError(tb, chrome.err)
	ctx, cancel := chromedp.NewContext(chrome.ctx, chromedp.WithNewBrowserContext())
	tb.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 12*time.Minute) // a busy machine draws slowly
	tb.Cleanup(cancel)
	require.NoError(tb, chromedp.Do(ctx))
	return ctx
}

// Stop ends the browser after the last test, if one was started.
func Stop() {
	if chrome.stop != nil {
		chrome.stop()
	}
}

// patience is how long a page may take: a busy machine draws slowly.
const patience = 20 * time.Second

// Until waits until a question to the page, when it is loaded, has the answer true. A page that goes away under the question, since a form was sent
// or a link followed, is followed.
func Until(tb testing.TB, ctx context.Context, question string) {
	tb.Helper()
	end := time.Now().Add(patience)
	for {
		_, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.readyState === "complete" && (`+question+`)`, chromedp.WithPollingTimeout(patience)))
		if err == nil {
			return
		}
		if ctx.Err() != nil || time.Now().After(end) {
			require.NoError(tb, err, question)
		}
	}
}

// Ask returns what a script in the page comes to.
func Ask[T any](tb testing.TB, ctx context.Context, script string) T {
	tb.Helper()
	out, err := chromedp.Run(ctx, chromedp.Evaluate[T](script))
	require.NoError(tb, err, script)
	return out
}

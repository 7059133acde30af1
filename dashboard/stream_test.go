package dashboard

import (
	"bufio"
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
)

// events reads a stream into a channel of "name data".
func events(t *testing.T, ctx context.Context, address string) <-chan string {
	t.Helper()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	require.NoError(t, err)
	w, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	require.Equal(t, "text/event-stream", w.Header.Get("Content-Type"))
	out := make(chan string, 100)
	go func() {
		defer close(out)
		defer func() { _ = w.Body.Close() }()
		in := bufio.NewScanner(w.Body)
		in.Buffer(nil, 1<<20)
		var event strings.Builder
		for in.Scan() {
			if in.Text() == "" {
				out <- event.String()
				event.Reset()
				continue
			}
			event.WriteString(in.Text() + "\n")
		}
	}()
	return out
}

// next waits for an event of a kind.
func next(t *testing.T, in <-chan string, kind string) string {
	t.Helper()
	for {
		select {
		case e, ok := <-in:
			require.True(t, ok, "the stream ended")
			if strings.HasPrefix(e, "event: "+kind+"\n") {
				return e
			}
		case <-time.After(10 * time.Second):
			require.FailNow(t, "no event", kind)
		}
	}
}

func TestStreamTellsNewsBeatsAndEnds(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	f := newFake()
	c := f.config()
	closing := make(chan struct{})
	c.Closing = closing
	h, err := New(c)
	require.NoError(t, err)
	srv := httptest.NewUnstartedServer(nil)
	srv.Config = NewServer(h)
	srv.Config.WriteTimeout = 50 * time.Millisecond // the stream must outlive it by its own deadlines
	srv.Start()
	defer srv.Close()
	defer http.DefaultClient.CloseIdleConnections()

	in := events(t, context.Background(), srv.URL+"/live")
	assert.Contains(t, next(t, in, "now"), "act today")
	assert.Contains(t, next(t, in, "beat"), "2 s ago")
	for range 5 { // well past the write timeout
		next(t, in, "beat")
	}
	good := testSnapshot()
	good.Collectors[0].Findings, good.Collectors[0].Now = nil, testAir("bench saw")
	f.set(good)
	assert.Contains(t, next(t, in, "now"), "Bench saw has the air it needs.")

	close(closing)
	for range in { // drains until the server ends the stream; the test's own timeout guards it
	}
}

func TestStreamEndsWithItsClient(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	srv := httptest.NewServer(newFake().handler(t))
	defer srv.Close()
	defer http.DefaultClient.CloseIdleConnections()
	ctx, cancel := context.WithCancel(context.Background())
	in := events(t, ctx, srv.URL+"/live")
	next(t, in, "beat")
	cancel()
	for range in {
	}
}

func TestQuietShopSendsTheLivePartOnce(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	a, b := get(t, h, "/live/now").Body.String(), get(t, h, "/live/now").Body.String()
	assert.Equal(t, a, b, "what has not changed is not sent again")
	assert.Less(t, len(a), 60_000)
}

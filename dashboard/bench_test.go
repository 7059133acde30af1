package dashboard

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/watch"
)

// discard takes an answer and forgets it.
type discard struct{ *httptest.ResponseRecorder }

func (discard) Write(b []byte) (int, error) { return len(b), nil }

func benchmark(b *testing.B, path string) {
	h := newFake().handler(b)
	r := httptest.NewRequest("GET", path, nil)
	b.ReportAllocs()
	for b.Loop() {
		h.ServeHTTP(discard{httptest.NewRecorder()}, r)
	}
}

func BenchmarkNow(b *testing.B)     { benchmark(b, "/") }
func BenchmarkHistory(b *testing.B) { benchmark(b, "/history") }
func BenchmarkChart(b *testing.B)   { benchmark(b, "/charts/filter?c=main") }
func BenchmarkState(b *testing.B)   { benchmark(b, "/api/v1/state") }

// asked finds what a page asks for before it is painted.
var asked = regexp.MustCompile(`(?:href|src)="(/static/[^"]+\.(?:css|js|svg)[^"]*)"`)

// BenchmarkNowFromCold makes the dashboard, listens, and fetches the page and all that it asks for over a connection of its own
// each time, packed as a browser asks for it.
func BenchmarkNowFromCold(b *testing.B) {
	f := newFake()
	bytes := 0
	for b.Loop() {
		h, err := New(f.config())
		require.NoError(b, err)
		l, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(b, err)
		srv := NewServer(h)
		served := make(chan error, 1)
		go func() { served <- srv.Serve(l) }()
		client := &http.Client{Transport: &http.Transport{}}
		bytes = 0
		fetch := func(path string) string {
			w, err := client.Get("http://" + l.Addr().String() + path)
			require.NoError(b, err)
			body, err := io.ReadAll(w.Body)
			require.NoError(b, err)
			require.NoError(b, w.Body.Close())
			bytes += len(body)
			return string(body)
		}
		for _, m := range asked.FindAllStringSubmatch(fetch("/"), -1) {
			fetch(m[1])
		}
		client.CloseIdleConnections()
		require.NoError(b, srv.Close())
		<-served
	}
	b.ReportMetric(float64(bytes), "B/page")
}

// BenchmarkFiftyViewers holds fifty streams open for ten seconds, while what they show changes every two. What it reports is of
// the whole process, so that the viewers' own side of the connections is in it.
func BenchmarkFiftyViewers(b *testing.B) {
	const viewers, watched = 50, 10 * time.Second
	f := newFake()
	cfg := f.config()
	cfg.Refresh = 0 // the usual
	closing := make(chan struct{})
	cfg.Closing = closing
	h, err := New(cfg)
	require.NoError(b, err)
	srv := httptest.NewServer(h)
	defer srv.Close()
	var busy sync.WaitGroup
	for range viewers {
		w, err := http.Get(srv.URL + "/live")
		require.NoError(b, err)
		busy.Go(func() {
			defer w.Body.Close()
			_, _ = io.Copy(io.Discard, bufio.NewReader(w.Body)) // until the server closes
		})
	}
	states := []*watch.Snapshot{testSnapshot(), testSnapshot()}
	states[1].Collectors[0].Now = testAir("bench saw")
	began, spent := time.Now(), cpuTime(b)
	for b.Loop() {
		for i := range int(watched / defaultRefresh) {
			f.set(states[i%2])
			time.Sleep(defaultRefresh)
		}
	}
	b.ReportMetric(100*(cpuTime(b)-spent).Seconds()/time.Since(began).Seconds(), "%core")
	close(closing)
	busy.Wait()
}

// cpuTime is what this process has used of processors.
func cpuTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// TestEveryPageIsLight: with its styles, its own script and its icon, unpacked, but without the chart script.
func TestEveryPageIsLight(t *testing.T) {
	_, h := richFake(t)
	two := scenes()["two"].handler(t)
	for name, h := range map[string]http.Handler{"rich": h, "two": two} {
		for _, path := range append(paths(), "/sign-in") {
			page := get(t, h, path).Body.String()
			weight := len(page)
			found := asked.FindAllStringSubmatch(page, -1)
			require.NotEmpty(t, found, path)
			for _, m := range found {
				if !strings.Contains(m[1], "echarts") {
					weight += get(t, h, m[1]).Body.Len()
				}
			}
			require.Less(t, weight, 150_000, fmt.Sprintf("%s %s", name, path))
		}
	}
}

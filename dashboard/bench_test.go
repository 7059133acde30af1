package dashboard

import (
	"net/http/httptest"
	"testing"
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

package access

import "testing"

// BenchmarkHash is one look whether a password is right.
func BenchmarkHash(b *testing.B) {
	h := NewHash(words)
	b.ReportAllocs()
	for b.Loop() {
		h.Is(words)
	}
}

package shop

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDistance(t *testing.T) {
	rows := []struct {
		a, b string
		want int
	}{
		{"", "abc", 3}, {"abc", "abc", 0}, {"saw", "swa", 1}, {"kitten", "sitting", 3}, {"flaw", "lawn", 2}, {"größe", "grösse", 2},
	}
	for _, row := range rows {
		require.Equal(t, row.want, distance(row.a, row.b), "%s → %s", row.a, row.b)
		require.Equal(t, row.want, distance(row.b, row.a), "%s → %s", row.b, row.a)
	}
}

func TestNearest(t *testing.T) {
	known := []string{"diameter", "length", "material"}
	require.Equal(t, "diameter", nearest("diametre", known))
	require.Equal(t, "length", nearest("Length", known))
	require.Equal(t, "", nearest("colour", known))
	require.Equal(t, "bench saw", nearest("bench_saw", []string{"band saw", "bench saw"}))
}

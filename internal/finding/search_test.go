package finding_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
)

// TestPlacesAreSearchedByWhatEachLookIsWorth: one gate that holds a third of the probability comes before nine seams that hold 40 %
// together, and what nobody can look at comes last. Of all orders in which four places of one, three, two and one parts can be
// looked at, it finds the fault after the fewest looks on the mean.
func TestPlacesAreSearchedByWhatEachLookIsWorth(t *testing.T) {
	where := []finding.Place{
		{Part: "run:a", Members: []string{"run:a", "run:b", "drop:c"}, Probability: 0.4},
		{Part: "seat:g", Probability: 0.3},
		{Part: "run:d", Members: []string{"run:d", "run:e"}, Probability: 0.15},
		{Part: "seat:h", Probability: 0.09},
	}
	got := finding.InSearchOrder(append(where, finding.Place{Part: "other", Probability: 0.6}))
	assert.Equal(t, "other", got[4].Part)
	assert.Equal(t, "seat:g", got[0].Part)
	assert.Equal(t, "run:a", where[0].Part, "the argument is left as it is")
	least := looks(got[:4])
	orders := 0
	permute(where, 0, func(o []finding.Place) {
		orders++
		assert.GreaterOrEqual(t, looks(o), least-1e-12)
	})
	assert.Equal(t, 24, orders)
}

// looks is how many parts are looked at on the mean until the fault is found, in the middle of the place where it is.
func looks(where []finding.Place) float64 {
	sum, seen := 0.0, 0.0
	for _, p := range where {
		n := float64(max(len(p.Members), 1))
		sum += p.Probability * (seen + (n+1)/2)
		seen += n
	}
	return sum
}

func permute(p []finding.Place, k int, do func([]finding.Place)) {
	if k == len(p) {
		do(p)
		return
	}
	for i := k; i < len(p); i++ {
		p[k], p[i] = p[i], p[k]
		permute(p, k+1, do)
		p[k], p[i] = p[i], p[k]
	}
}

package dashboard

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/finding"
)

// TestALeakAtAPlaceIsThereOrNot: its interval begins at none as long as it may be elsewhere, and is none where it is not.
func TestALeakAtAPlaceIsThereOrNot(t *testing.T) {
	q := m3h(20, 2)
	for p, want := range map[float64][2]float64{0.99: {20 - 2*ninety, 20 + 2*ninety}, 0.6: {0, 20 + 2*ninety}, 0.04: {0, 0}} {
		lo, hi := mixture(p, q)
		assert.InDelta(t, want[0], 3600*lo, 1e-9, "%v", p)
		assert.InDelta(t, want[1], 3600*hi, 1e-9, "%v", p)
	}
}

// TestADaysGroupCountsForEachOfItsPlaces, since the day does not tell them apart, and what is elsewhere does not.
func TestADaysGroupCountsForEachOfItsPlaces(t *testing.T) {
	zone := func(p, q float64, parts ...string) estimate.Zone {
		return estimate.Zone{Place: finding.Place{Part: "several", Members: parts, Probability: p}, Leakage: m3h(q, 1)}
	}
	d := &estimate.Day{Zones: []estimate.Zone{zone(0.5, 20, "run:a", "run:b"), zone(0.2, 25, "run:c"), zone(0.3, 30, "run:d")}}
	for _, x := range []struct {
		place estimate.Zone
		p, q  float64
	}{{estimate.Zone{Place: finding.Place{Part: "run:b"}}, 0.5, 20}, {zone(0, 0, "run:b", "run:c"), 0.7, 20}, {zone(0, 0, "run:d"), 0.3, 30}, {zone(0, 0, "run:e"), 0, 0}} {
		p, q := leakAt(d, &x.place)
		assert.InDelta(t, x.p, p, 1e-9)
		assert.InDelta(t, x.q, 3600*q.V, 1e-9)
	}
}

// TestTheLikeliestPlacesHaveAChart on the page and for the script.
func TestTheLikeliestPlacesHaveAChart(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	require.Len(t, (&server{Config: f.config()}).leakPlaces(f.collector()), 3)
	page := get(t, h, "/leaks").Body.String()
	assert.Contains(t, page, "How much of it leaks in here: seam of trunk 5?")
	assert.Contains(t, page, "/charts/place?c=main&amp;i=2")
	assert.Equal(t, 200, get(t, h, "/charts/place?c=main&i=2").Code)
	for _, bad := range []string{"c=main&i=3", "c=main&i=-1", "c=main&i=x", "c=none&i=0", "c=main"} {
		assert.Equal(t, 404, get(t, h, "/charts/place?"+bad).Code, bad)
	}
}

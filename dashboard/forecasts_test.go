package dashboard

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// filterDays are days on which the filter goes from 100 % up by so much a day; each tells that it must be cleaned at 150 %, on
// the day that a rise of told a day would bring, five days sooner or later.
func filterDays(from time.Time, n int, rise, told float64) (out []estimate.Day) {
	for i := range n {
		d := estimate.Day{Date: from.AddDate(0, 0, i).Format(time.DateOnly), FilterRatio: val(1+rise*float64(i), 0.005)}
		if i >= 3 {
			at := from.AddDate(0, 0, i+int(math.Round((1.5-d.FilterRatio.V)/told))).Add(12 * time.Hour)
			d.Due = &estimate.Due{Date: at, Low: at.AddDate(0, 0, -5), High: at.AddDate(0, 0, 5), Confidence: 0.8, Reason: "filter-limit", Ratio: 1.5}
		}
		out = append(out, d)
	}
	return out
}

// TestPastForecastsAreHeldAgainstWhatHappened: each is judged as it stood two weeks before, and one of a filter that was cleaned
// before is not.
func TestPastForecastsAreHeldAgainstWhatHappened(t *testing.T) {
	from := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		days       int
		rise, told float64
		cleaned    bool
		want       outcome
		toldAgo    int // days from the forecast to the end
	}{
		"it came as told":               {51, 0.01, 0.01, true, heldTrue, 14},
		"it came as told, still loaded": {51, 0.01, 0.01, false, heldTrue, 14},
		"it came sooner than told":      {51, 0.01, 0.006, true, tooLate, 14},
		"it came later than told":       {51, 0.01, 0.02, true, tooEarly, 14},
		"cleaned before it was due":     {30, 0.01, 0.01, true, notJudged, 14},
		"cleaned late, and not there":   {46, 0.01, 0.03, true, tooEarly, 14},
		"a short way has its first":     {12, 0.05, 0.05, true, heldTrue, 7},
	} {
		t.Run(name, func(t *testing.T) {
			s := &server{Config: Config{Shop: testShop()}}
			col := &watch.Collector{Name: "main", Days: filterDays(from, c.days, c.rise, c.told)}
			var washed []cleaning
			if c.cleaned {
				washed = []cleaning{{at: from.AddDate(0, 0, c.days).Add(8 * time.Hour), noticed: true}}
			}
			col.Days = append(col.Days, filterDays(from.AddDate(0, 0, c.days), 3, 0.01, 0.01)...)
			if !c.cleaned {
				col.Days = col.Days[:c.days]
			}
			got := s.pastForecasts(col, washed)
			require.Len(t, got, 1)
			assert.Equal(t, c.want, got[0].outcome())
			assert.Greater(t, got[0].ratio.V, 1.2, "as it was before the cleaning")
			assert.InDelta(t, c.toldAgo, got[0].end.Sub(got[0].told).Hours()/24, 0.9, "a day is told at its noon")
			rows, sentence := s.forecastRows(got, from.AddDate(0, 3, 0))
			assert.Len(t, rows, 1)
			assert.NotEmpty(t, rows[0].Held)
			assert.NotEmpty(t, sentence)
		})
	}
}

// TestAWayThatGoesOnIsNoPastForecast: neither cleaned nor at the limit.
func TestAWayThatGoesOnIsNoPastForecast(t *testing.T) {
	s := &server{Config: Config{Shop: testShop()}}
	c := &watch.Collector{Name: "main", Days: filterDays(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), 40, 0.01, 0.01)}
	assert.Empty(t, s.pastForecasts(c, nil))
	rows, sentence := s.forecastRows(nil, testNow)
	assert.Empty(t, rows)
	assert.Equal(t, "No forecast has come to its end yet.", sentence)
}

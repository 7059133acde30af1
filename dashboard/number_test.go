package dashboard

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/estimate"
)

func TestNumbersHaveTheDigitsThatTheirSpreadSupports(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name         string
		v, se, scale float64
		unit, want   string
	}{
		// ± is one standard error.
		{"flow", 850.0 / 3600, 24.3 / 3600, 3600, "m³/h", "850 ± 24\u00a0m³/h"},
		{"thousands", 1234.0, 18.0, 1, "Pa", "1\u00a0234 ± 18\u00a0Pa"},
		{"fine", 0.7312, 0.0011, 1, "", "0.7312 ± 0.0011"},
		{"negative", -3.21, 0.3, 1, "Pa", "−3.2 ± 0.3\u00a0Pa"},
		{"spread not known", 850.0, nan, 1, "Pa", "850\u00a0Pa"},
		{"not known", nan, 1.0, 1, "Pa", "not known"},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, spread(c.v, c.se, c.scale, c.unit)) })
	}
	assert.Equal(t, "1\u00a0040", rounded(estimate.Value{V: 1038.0 / 3600, SE: 37.0 / 3600}, 3600))
}

func TestFixedAndDecimals(t *testing.T) {
	assert.Equal(t, "−1\u00a0230", fixed(-1234, -1))
	assert.Equal(t, "0.0", fixed(-0.01, 1), "no negative zero")
	assert.Equal(t, 0, decimals(4))
	assert.Equal(t, 1, decimals(1.9), "a spread of 1.9 keeps two digits")
	assert.Equal(t, -1, decimals(40))
	assert.Equal(t, 3, decimals(math.NaN()))
}

func TestOpenAreaOfALeak(t *testing.T) {
	// By hand: √(2·1500/1.2) = 50 m/s exactly, times 0.6 is 30 m/s; 0.003 m³/s need 1 cm².
	assert.InDelta(t, 1e-4, openArea(0.003, 1500), 1e-15)
	assert.Equal(t, "as much as an opening of 100 ± 20\u00a0mm² would let in", metricUnits.areaText(estimate.Value{V: 0.003, SE: 0.0006}, 1500))
	assert.Empty(t, metricUnits.areaText(estimate.Value{V: -0.001, SE: 0.001}, 1500), "less than nothing has no size")
}

func TestTimesAsPeopleSayThem(t *testing.T) {
	s := &server{Config: newFake().config()}
	if s.location().String() != "Europe/London" {
		t.Skip("no zone files")
	}
	at := func(text string) time.Time {
		v, err := time.Parse(time.RFC3339, text)
		assert.NoError(t, err)
		return v
	}
	for _, c := range []struct{ at, want string }{
		{"2026-11-25T09:05:00Z", "today 09:05"}, {"2026-11-24T23:59:00Z", "yesterday 23:59"}, {"2026-11-20T08:00:00Z", "Friday 20 November 08:00"},
		{"2026-06-30T23:30:00Z", "1 July"}, {"2025-03-14T10:00:00Z", "14 March 2025"},
	} {
		assert.Equal(t, c.want, s.moment(at(c.at), testNow))
	}
	assert.Equal(t, "not known", s.moment(time.Time{}, testNow))
	assert.Equal(t, "tomorrow", s.day(testNow.AddDate(0, 0, 1), testNow))
	assert.Equal(t, "between Friday 27 November and Friday 4 December", s.interval(testNow.AddDate(0, 0, 2), testNow.AddDate(0, 0, 9), testNow))
	// Summer time ended on 25 October 2026: a day of 25 hours is still one day.
	assert.Equal(t, "yesterday 00:30", s.moment(at("2026-10-24T23:30:00Z"), at("2026-10-26T00:15:00Z")))
	assert.Equal(t, "3 h", age(3*time.Hour+50*time.Minute))
	assert.Equal(t, "5 days", age(121*time.Hour))
}

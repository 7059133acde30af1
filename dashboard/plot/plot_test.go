package plot

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// sample has a line with a band, a gap, a mark above it and an event.
func sample() *Chart {
	at := func(h int) time.Time { return start.Add(time.Duration(h) * time.Hour) }
	return &Chart{Title: "How <hard>?", Unit: "Pa", From: start, To: at(8), Zero: true,
		Lines: []Line{{Name: "drop", Tone: Air, Band: Spread, Points: []Point{
			{At: at(1), V: 10, Lo: 8, Hi: 12, Text: "10 ± 2 Pa"}, {At: at(2), V: 20, Lo: 18, Hi: 22}, {At: at(3), V: math.NaN()},
			{At: at(5), V: -5, Lo: -9, Hi: -1}}}},
		Marks:  []Mark{{V: 40, Text: "limit & more", Tone: Plan}},
		Events: []Event{{At: at(4), Text: "cleaned"}, {At: at(30), Text: "outside"}}}
}

func TestLevelsAreRoundAndCover(t *testing.T) {
	for _, c := range []struct {
		name      string
		low, high float64
		want      []float64
		decimals  int
	}{
		{"about a hundred", 80, 172, []float64{80, 100, 120, 140, 160, 180}, 0},
		{"small", 0, 0.012, []float64{0, 0.005, 0.010, 0.015}, 3},
		{"both signs", -9, 22, []float64{-10, 0, 10, 20, 30}, 0},
		{"a hair below zero adds no step", -1, 1845, []float64{0, 500, 1000, 1500, 2000}, 0},
		{"one value", 5, 5, []float64{4.7, 4.8, 4.9, 5.0, 5.1, 5.2, 5.3}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, decimals := levels(c.low, c.high, 5)
			assert.Equal(t, c.decimals, decimals)
			assert.LessOrEqual(t, got[0], c.low+0.04*(got[1]-got[0]))
			assert.GreaterOrEqual(t, got[len(got)-1], c.high-0.04*(got[1]-got[0]))
			if c.name != "one value" {
				assert.InDeltaSlice(t, c.want, got, 1e-12)
			}
		})
	}
}

func TestLabelsHaveTrueMinusAndGroups(t *testing.T) {
	assert.Equal(t, "−1\u00a0500", label(-1500, 0))
	assert.Equal(t, "0.00", label(-0.001, 2))
	assert.Equal(t, "12.5", label(12.5, 1))
}

func TestTimeTicksAreRoundLocalTimesOverDaylightSaving(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Skipf("no zone files: %v", err)
	}
	// Summer time began on 29 March 2026 at 01:00 UTC: that day has 23 hours, and each tick is still at midnight.
	from := time.Date(2026, 3, 27, 15, 0, 0, 0, london)
	for _, k := range timeTicks(from, from.AddDate(0, 0, 5), london, 8) {
		assert.Equal(t, 0, k.at.Hour(), k.at)
		assert.True(t, k.at.After(from))
	}
	got := timeTicks(from, from.Add(7*time.Hour), london, 8)
	require.NotEmpty(t, got)
	assert.Equal(t, "15:00", got[0].text)
	months := timeTicks(from.AddDate(0, -7, 0), from, london, 8)
	assert.Equal(t, "Sep 2025", months[0].text)
	assert.Len(t, months, 7)
}

func TestStillKeepsGapsBandsAndWords(t *testing.T) {
	svg := string(sample().Still())
	assert.Equal(t, 2, strings.Count(svg, `class="p-line p-air"`), "two stretches: the gap stays open")
	assert.Equal(t, 2, strings.Count(svg, `class="p-edge p-air"`), "the edge of an uncertainty is doubled")
	assert.Contains(t, svg, "How &lt;hard&gt;?")
	assert.Contains(t, svg, "limit &amp; more")
	assert.Contains(t, svg, ">cleaned<")
	assert.NotContains(t, svg, "outside")
	assert.NotContains(t, svg, "NaN")
	assert.NotContains(t, svg, "style")

	c := sample()
	c.Lines[0].Band = Range
	assert.NotContains(t, string(c.Still()), "p-edge", "a range that was seen is no uncertainty")
}

func TestStillPlacesValuesToScale(t *testing.T) {
	s := &still{c: sample(), low: 0, high: 40, begin: float64(start.Unix()), end: float64(start.Add(8 * time.Hour).Unix())}
	assert.InDelta(t, stillHeight-marginFoot, s.y(0), 1e-9)
	assert.InDelta(t, marginTop, s.y(40), 1e-9)
	assert.InDelta(t, (marginLeft+stillWidth-marginRight)/2, s.x(start.Add(4*time.Hour)), 1e-9)
}

func TestOptionsAreDataOnly(t *testing.T) {
	raw, err := json.Marshal(sample().Options())
	require.NoError(t, err)
	text := string(raw)
	for _, bad := range []string{"function", "<div", "<span", "http", "__f__"} {
		assert.NotContains(t, text, bad)
	}
	var o struct {
		UseUTC bool `json:"useUTC"`
		Series []struct {
			Name  string `json:"name"`
			Stack string `json:"stack"`
			Data  []struct {
				Name  string     `json:"name"`
				Value []*float64 `json:"value"`
			} `json:"data"`
			MarkLine *struct {
				Data []map[string]any `json:"data"`
			} `json:"markLine"`
		} `json:"series"`
		YAxis []struct{ Min, Max float64 } `json:"yAxis"`
	}
	require.NoError(t, json.Unmarshal(raw, &o))
	require.Len(t, o.Series, 3, "lower edge, rest of the band, line")
	assert.True(t, o.UseUTC)
	line := o.Series[2]
	assert.Equal(t, "10 ± 2 Pa", line.Data[0].Name)
	assert.InDelta(t, 10, *line.Data[0].Value[1], 0)
	assert.Nil(t, line.Data[2].Value[1], "a gap is null")
	assert.Nil(t, o.Series[0].Data[2].Value[1])
	assert.InDelta(t, 8, *o.Series[0].Data[0].Value[1], 0)
	assert.InDelta(t, 4, *o.Series[1].Data[0].Value[1], 0, "12 − 8")
	assert.Equal(t, o.Series[0].Stack, o.Series[1].Stack)
	assert.Empty(t, line.Stack)
	require.NotNil(t, line.MarkLine)
	assert.Len(t, line.MarkLine.Data, 2, "one mark, one event within the span")
	assert.LessOrEqual(t, o.YAxis[0].Min, -9.0)
	assert.GreaterOrEqual(t, o.YAxis[0].Max, 40.0)
}

func TestOptionsShowTheShopsWallClock(t *testing.T) {
	zone := time.FixedZone("two hours east", 2*3600)
	c := sample()
	c.Location = zone
	assert.Equal(t, start.UnixMilli()+2*3600*1000, c.stamp(start))
}

func TestEmpty(t *testing.T) {
	assert.False(t, sample().Empty())
	assert.True(t, (&Chart{Lines: []Line{{Points: []Point{{V: math.NaN()}}}}}).Empty())
}

package dashboard

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// aSensor and aSwitch are channels of the two sorts.
var (
	aSensor = channel{Name: "main/trunk", every: time.Second, measure: measure{"static pressure", "Pa", "Pa", 1, 0}}
	aSwitch = channel{Name: "gate/tenoner gate", measure: switchMeasure}
)

// filled makes buckets of the given length; a NaN is an empty one.
func filled(each time.Duration, values ...float64) []Bucket {
	var out []Bucket
	for i, v := range values {
		b := Bucket{Start: testNow.Add(time.Duration(i) * each), End: testNow.Add(time.Duration(i+1) * each)}
		if !math.IsNaN(v) {
			b.N, b.Min, b.Mean, b.Max = 1, v, v, v
		}
		out = append(out, b)
	}
	return out
}

func TestWhatLiesBetweenTwoReadingsIsNoGap(t *testing.T) {
	nan := math.NaN()
	gaps := func(c channel, each time.Duration, values ...float64) int {
		n := 0
		for _, p := range points(c, filled(each, values...)) {
			if !known(p.V) {
				n++
			}
		}
		return n
	}
	assert.Zero(t, gaps(aSensor, 150*time.Millisecond, 5, nan, nan, nan, nan, nan, 6, nan, 7), "read once a second")
	assert.Zero(t, gaps(aSensor, 30*time.Second, 5, nan, 6, nan, 7), "once a minute while the fan rests")
	assert.Equal(t, 1, gaps(aSensor, 30*time.Second, 5, nan, nan, nan, nan, 6), "two minutes of silence")
	assert.Equal(t, 1, gaps(aSensor, time.Hour, 5, nan, 6))
	assert.Zero(t, gaps(aSwitch, 5*time.Minute, 1, nan, nan, 1), "a switch holds until it is told again")
	assert.Equal(t, 1, gaps(aSwitch, 5*time.Minute, 1, nan, nan, nan, nan, nan, nan, nan, 1), "but not for ever")
	lost := filled(time.Minute, 1, 1, 1)
	lost[1].Mean = nan
	assert.Len(t, points(aSwitch, lost), 3)
	assert.True(t, math.IsNaN(points(aSwitch, lost)[1].V), "not known from here on")
}

func TestACloseLookIsNoFinerThanTheReadings(t *testing.T) {
	at := func(d time.Duration) span { return span{from: testNow, to: testNow.Add(d)} }
	assert.Equal(t, 60, bucketsFor(aSensor, at(time.Minute)))
	assert.Equal(t, defaultBuckets, bucketsFor(aSensor, at(time.Hour)))
	assert.Equal(t, 1, bucketsFor(aSensor, at(time.Millisecond)))
	assert.Equal(t, defaultBuckets, bucketsFor(aSwitch, at(time.Minute)))
}

// TestASwitchStandsOverTheWholeSpan: from where it stood before, to where it stands now and no further.
func TestASwitchStandsOverTheWholeSpan(t *testing.T) {
	f := newFake()
	s := &server{Config: f.config()}
	v := span{from: testNow.Add(-time.Hour), to: testNow.Add(time.Hour)}
	buckets, err := f.Chart(aSwitch.Name, v.from, v.to, 400)
	require.NoError(t, err)
	held, err := s.holdOn(aSwitch, v, buckets, points(aSwitch, buckets))
	require.NoError(t, err)
	assert.Equal(t, v.from, held[0].At)
	assert.Equal(t, testNow, held[len(held)-1].At, "what is to come is not known")
	v = span{from: testNow.AddDate(0, 1, 0), to: testNow.AddDate(0, 2, 0)}
	held, err = s.holdOn(aSwitch, v, nil, nil)
	require.NoError(t, err)
	assert.Empty(t, held, "nobody told for long")
}

func TestASpanToTheSecondHasAnAddress(t *testing.T) {
	h := newFake().handler(t)
	page := get(t, h, "/history?ch=main/trunk&from=2026-11-25T09:00:05&to=2026-11-25T09:01:35").Body.String()
	assert.Contains(t, page, `name="from" value="2026-11-25T09:00:05"`)
	assert.Contains(t, page, `data-zoom="/history?ch=main%2Ftrunk"`)
	assert.Contains(t, page, "from=2026-11-25T09%3A00%3A05Z", "the file is of the same span")
	assert.Equal(t, 90, strings.Count(get(t, h, "/history.csv?ch=main/trunk&from=2026-11-25T09:00:05&to=2026-11-25T09:01:35").Body.String(), "main/trunk"))
	assert.Contains(t, get(t, h, "/history").Body.String(), "last minute")
}

func TestHistoryTellsWhatWasDoneAndNoticed(t *testing.T) {
	h := newFake().handler(t)
	page := get(t, h, "/history?from=2026-11-25T08:00&to=2026-11-25T14:00").Body.String()
	assert.Contains(t, page, `<span class="what">Bin emptied</span>`)
	assert.Contains(t, page, `<span class="what">Too little air</span>`)
	page = get(t, h, "/history?from=2026-11-24T08:00&to=2026-11-24T14:00").Body.String()
	assert.NotContains(t, page, "What was done and noticed")
}

package estimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// worked returns an estimator whose fan ran for hours on each of some days after a Monday.
func worked(hours float64, days ...int) *Estimator {
	e := &Estimator{site: shop.Site{Location: time.UTC}}
	for _, d := range days {
		e.filter.days = append(e.filter.days, workday{at: time.Date(2026, 3, 2+d, 15, 0, 0, 0, time.UTC), hours: hours})
	}
	return e
}

// TestTheWeekHasItsWeekend: the hours ahead are counted on the days on which the fan runs.
func TestTheWeekHasItsWeekend(t *testing.T) {
	week, ok := worked(6, 0, 1, 2, 3, 4).fanWeek()
	require.True(t, ok)
	friday := time.Date(2026, 3, 6, 15, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		hours float64
		want  time.Time
	}{
		{-1, friday}, {0, friday},
		{3, time.Date(2026, 3, 9, 12, 0, 0, 0, time.UTC)}, // half of Monday, which ends at three
		{6, time.Date(2026, 3, 9, 15, 0, 0, 0, time.UTC)},
		{29.9, time.Date(2026, 3, 13, 14, 54, 0, 0, time.UTC)},
		{31, time.Date(2026, 3, 16, 10, 0, 0, 0, time.UTC)},
	} {
		assert.WithinDuration(t, c.want, week.after(friday, c.hours), time.Second, "%v h", c.hours)
	}
	assert.Equal(t, friday.AddDate(0, 0, farDays), week.after(friday, 1e6), "farther than anybody plans")
}

// TestADayThatIsWorkedNowAndThen counts by its share.
func TestADayThatIsWorkedNowAndThen(t *testing.T) {
	week, ok := worked(6, 0, 1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 14, 15, 16, 17, 18, 19, 21, 22, 23, 24, 25).fanWeek()
	require.True(t, ok)
	assert.InDelta(t, 6, week.hours[time.Monday], 0.01)
	assert.InDelta(t, 4, week.hours[time.Saturday], 0.6, "two of three Saturdays")
	assert.Less(t, week.hours[time.Sunday], 1.1, "never of three Sundays")
	_, ok = worked(6, 0, 1).fanWeek()
	assert.False(t, ok, "two days are no week")
	first, ok := worked(6, 0, 1, 2).fanWeek()
	require.True(t, ok)
	assert.InDelta(t, 6, first.hours[time.Friday], 0.01, "not seen yet, thought to be as the others")
}

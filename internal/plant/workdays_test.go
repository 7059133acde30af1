package plant

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// monday is the first day of the invented working year.
var monday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// workYear makes the days of the test workshop.
func workYear(t testing.TB, change func(*WorkOptions)) *Workdays {
	t.Helper()
	o := DefaultWork(7, monday)
	o.Site = site
	if change != nil {
		change(&o)
	}
	w, err := NewWorkdays(workshop(), o)
	require.NoError(t, err)
	return w
}

// watched is what a replay of one day saw.
type watched struct {
	changes, cleanings int
	fan, closed        time.Duration
	most               int
	off                bool // the fan was off at the end
}

// replay applies a day to a plant and watches it. Without gates open, the fan runs closed.
func replay(t testing.TB, p *Plant, events []Event) watched {
	t.Helper()
	var w watched
	at := time.Duration(0)
	open := map[string]bool{}
	for _, e := range events {
		require.GreaterOrEqual(t, e.At, at, "events must be in order")
		if p.FanOn() {
			w.fan += e.At - at
			if len(open) == 0 {
				w.closed += e.At - at
			}
		}
		at = e.At
		if e.Kind == GateEvent && p.GateOpen(e.Name) != e.On {
			w.changes++
		}
		if e.Kind == CleanedEvent {
			w.cleanings++
		}
		require.NoError(t, p.Apply(e))
		if e.Kind == GateEvent {
			delete(open, e.Name)
			if e.On {
				open[e.Name] = true
			}
		}
		w.most = max(w.most, len(open))
	}
	w.off = !p.FanOn()
	return w
}

func TestWorkingYear(t *testing.T) {
	w := workYear(t, nil)
	p := newPlant(t, workshop(), DefaultOptions(3))
	worked, changes, cleanings, closedDays := 0, 0, 0, 0
	var fan time.Duration
	for n := range 365 {
		got := replay(t, p, w.Day(n))
		require.NoError(t, p.Err())
		assert.True(t, got.off, "day %d: the fan must be off at night", n)
		assert.LessOrEqual(t, got.most, mostInUse+1, "day %d: gates open at once, a swap included", n)
		if !w.Working(n) {
			assert.Zero(t, got.fan, "day %d: no work, no fan", n)
			continue
		}
		worked++
		changes += got.changes
		cleanings += got.cleanings
		fan += got.fan
		if got.closed > 0 {
			closedDays++
			assert.InDelta(t, 140, got.closed.Seconds(), 65, "day %d: s of the closed stretch", n)
		}
	}
	t.Logf("%d days, %d changes, %d cleanings, %v with the fan on, %d closed stretches", worked, changes, cleanings, fan, closedDays)
	assert.InDelta(t, 247, worked, 8, "days of work in a year")
	assert.InDelta(t, 36, float64(changes)/float64(worked), 5, "gate changes a day")
	assert.InDelta(t, 6.4, fan.Hours()/float64(worked), 0.4, "h a day with the fan on")
	assert.InDelta(t, float64(worked)/18, float64(cleanings), 4)
	assert.InDelta(t, 0.9*float64(worked), float64(closedDays), 15, "days with a closed stretch")
}

func TestNeverClosedMeansNever(t *testing.T) {
	w := workYear(t, func(o *WorkOptions) { o.Closed = NeverClosed })
	p := newPlant(t, workshop(), DefaultOptions(3))
	for n := range 120 {
		got := replay(t, p, w.Day(n))
		assert.Zero(t, got.closed, "day %d", n)
	}
}

func TestWeeklyTest(t *testing.T) {
	w := workYear(t, func(o *WorkOptions) { o.Closed, o.Test = NeverClosed, 10*time.Minute })
	p := newPlant(t, workshop(), DefaultOptions(3))
	for n := range 28 {
		got := replay(t, p, w.Day(n))
		want := time.Duration(0)
		if w.Working(n) && w.Date(n).Weekday() == time.Friday {
			want = 10 * time.Minute
		}
		assert.Equal(t, want, got.closed, "day %d", n)
		assert.True(t, got.off)
	}
}

func TestDaysAreTheSameInAnyOrder(t *testing.T) {
	a, b := workYear(t, nil), workYear(t, nil)
	last := b.Day(60)
	for n := range 60 {
		a.Day(n)
	}
	assert.Equal(t, last, a.Day(60))
	assert.Equal(t, a.Day(17), b.Day(17))
}

func TestFilterIsCleanedAndKeepsAResidue(t *testing.T) {
	w := workYear(t, nil)
	var floors, tops []float64
	for n := range 250 {
		before := w.FilterAt(n - 1)
		for _, e := range w.Day(n) {
			if e.Kind == CleanedEvent {
				floors, tops = append(floors, e.Value), append(tops, before)
			}
		}
	}
	require.GreaterOrEqual(t, len(floors), 7)
	for i, f := range floors {
		assert.Less(t, f, 1.2, "a cleaning recovers most")
		assert.GreaterOrEqual(t, tops[i], 2.2, "and is not done before it is due")
		assert.Less(t, tops[i], 2.7, "nor long after")
	}
	assert.Greater(t, floors[len(floors)-1], floors[0], "what cleanings leave adds up")
}

func TestFaultsComeGrowAndGo(t *testing.T) {
	w := workYear(t, func(o *WorkOptions) {
		o.Faults = []Fault{
			{Day: 10, At: 9 * time.Hour, Kind: LeakEvent, Name: "run:trunk 2", Size: 0.002, PerDay: 0.0005, Until: 40},
			{Day: 5, Kind: SpeedEvent, Size: 0.97, Until: 6},
			{Day: 50, At: 11 * time.Hour, Kind: TearEvent, Size: 0.2},
		}
	})
	p := newPlant(t, workshop(), Exact())
	at := func(n int) *Plant {
		for _, e := range w.Day(n) {
			require.NoError(t, p.Apply(e))
		}
		return p
	}
	assert.Zero(t, at(9).Leak("run:trunk 2"))
	assert.InDelta(t, 0.97, at(5).speedNow(), 1e-12)
	assert.InDelta(t, 1, at(6).speedNow(), 1e-12)
	assert.InDelta(t, 0.002, at(10).Leak("run:trunk 2"), 1e-12)
	assert.InDelta(t, 0.012, at(30).Leak("run:trunk 2"), 1e-12)
	assert.Zero(t, at(40).Leak("run:trunk 2"))
	whole := w.FilterAt(52)
	torn := at(52).filterRatio
	assert.InDelta(t, 1/(1/whole+0.2), torn, 1e-9)
}

func TestBusyFromAMomentOn(t *testing.T) {
	from := monday.AddDate(0, 0, 30).Add(10*time.Hour + 17*time.Minute)
	w := workYear(t, func(o *WorkOptions) { o.Busy = from })
	p := newPlant(t, workshop(), DefaultOptions(3))
	for n := range 30 {
		replay(t, p, w.Day(n))
	}
	day := replay(t, p, w.Day(30))
	assert.False(t, day.off)
	next := replay(t, p, w.Day(31))
	assert.Greater(t, next.changes, 1000, "about one a minute")
	assert.Greater(t, next.fan, 23*time.Hour)
	assert.Zero(t, next.cleanings)
}

package estimate

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
	"ductward/internal/steady"
)

// checked returns an estimator that has chosen its regular checks; all shut has never been run.
func checked(t *testing.T, rating float64) *Estimator {
	e, d := suspecting(t, rating)
	delete(e.sets, e.closedSet().key)
	e.judgeNothing()
	e.cal.to = at(0, 16)
	e.prepareChecks(d)
	return e
}

// judgeNothing lets every zone count as one that the baseline could have seen.
func (e *Estimator) judgeNothing() {
	e.seen = make([]bool, len(e.cols.zones))
	for j := range e.seen {
		e.seen[j] = true
	}
}

// at is an hour of a day in March.
func at(day, hour int) time.Time { return time.Date(2026, 3, 2+day, hour, 0, 0, 0, time.UTC) }

// lived takes two minutes of some gates on a day.
func (e *Estimator) lived(t time.Time, g *gateSet, newDay bool) {
	e.lastAt = t
	e.checks.note(&steady.Run{Kind: g.kind, At: t, End: 2 * time.Minute}, g, newDay)
}

// TestTheDailyCheckIsTheSharpestThatTheDuctsBear: all gates shut where every run is rated for it, else one gate, and it is
// told how much less that shows.
func TestTheDailyCheckIsTheSharpestThatTheDuctsBear(t *testing.T) {
	shut := checked(t, 4000).Checks()[0]
	assert.Equal(t, ClosedCheck, shut.Kind)
	assert.Equal(t, [][]string{{}}, shut.Sets)
	assert.Equal(t, 2*time.Minute, shut.Duration)
	assert.True(t, math.IsNaN(shut.Closed), "it is that one")
	assert.InDelta(t, 3, shut.Power*3600, 2, "m³/h: two minutes of all flow being leakage, on a day whose filter is known to 0.2 %")

	e := checked(t, 3100)
	one := e.Checks()[0]
	assert.Equal(t, ReferenceCheck, one.Kind)
	require.Len(t, one.Sets[0], 1)
	assert.True(t, e.bears(e.checks.daily.set))
	assert.InEpsilon(t, shut.Power, one.Closed, 1e-9)
	assert.Greater(t, one.Power, 3*one.Closed, "its smaller power is told")
	for _, g := range e.checks.walk {
		assert.True(t, e.bears(g), "%q", g.open)
	}

	e = checked(t, math.NaN())
	assert.Equal(t, ReferenceCheck, e.Checks()[0].Kind, "without a rating one of the gates that the shop opens alone anyway")
	clear(e.sets)
	e.checks = checkBook{}
	_, d := suspecting(t, 4000)
	e.prepareChecks(d)
	assert.Empty(t, e.Checks(), "nothing that has not been run")
}

// TestAnotherBaselineLetsGoOfWhatWasChosenByTheLast.
func TestAnotherBaselineLetsGoOfWhatWasChosenByTheLast(t *testing.T) {
	e := checked(t, 4000)
	_, d := suspecting(t, 4000)
	trunkOrDrop(t, e)
	e.plan(d)
	require.NotNil(t, e.NextTest())
	require.NotEmpty(t, e.Checks())
	was := e.cal
	e.cal = nil
	assert.Nil(t, e.NextTest())
	assert.Empty(t, e.Checks())
	again := *was
	e.cal, e.changes = &again, nil
	e.plan(d)
	assert.Nil(t, e.NextTest(), "nothing is suspected any more")
	assert.Empty(t, e.Checks(), "chosen on the first day against it")
	e.prepareChecks(d)
	assert.NotEmpty(t, e.Checks())
}

// TestMiddleIsTheWeightedMedian, from the best on.
func TestMiddleIsTheWeightedMedian(t *testing.T) {
	assert.Equal(t, 5.0, middle([]zoneInfo{{1, 1}, {9, 1}, {5, 1}}))
	assert.Equal(t, 9.0, middle([]zoneInfo{{1, 1}, {9, 3}, {5, 1}}))
	assert.Equal(t, 0.0, middle(nil))
}

// TestTheDailyCheckIsDueAfterADayWithoutOne: since that day's first run, until it is done.
func TestTheDailyCheckIsDueAfterADayWithoutOne(t *testing.T) {
	e := checked(t, 4000)
	saw, shut := e.aloneSet("bench saw"), e.closedSet()
	assert.False(t, e.Checks()[0].Due, "the baseline has just ended")
	e.lived(at(1, 8), saw, true)
	e.lived(at(1, 9), saw, false)
	assert.False(t, e.Checks()[0].Due, "the fan may stop with all gates shut: that is one")
	e.lived(at(2, 8), saw, true)
	c := e.Checks()[0]
	assert.True(t, c.Due)
	assert.Equal(t, at(1, 8), c.Since, "the first run of the first day without one")
	assert.Zero(t, c.Last)
	e.lived(at(2, 10), shut, false)
	c = e.Checks()[0]
	assert.False(t, c.Due)
	assert.Zero(t, c.Since)
	assert.Equal(t, at(2, 10), c.Last)
	e.lived(at(3, 8), shut, true)
	e.lived(at(4, 8), saw, true)
	assert.False(t, e.Checks()[0].Due, "yesterday began with one")
	e.checks.note(&steady.Run{Kind: steady.Closed, At: at(4, 9), End: 20 * time.Second}, shut, false)
	e.lived(at(5, 8), saw, true)
	assert.True(t, e.Checks()[0].Due, "twenty seconds between two machines are none")
}

// TestTheWalkAsksForWhatHasNotBeenOpenAloneForAWeek, the longest ago first.
func TestTheWalkAsksForWhatHasNotBeenOpenAloneForAWeek(t *testing.T) {
	e := checked(t, 4000)
	e.lived(at(3, 9), e.aloneSet("band saw"), true)
	w := e.Checks()[1]
	assert.Equal(t, WalkCheck, w.Kind)
	assert.False(t, w.Due)
	e.lived(at(7, 15), e.aloneSet("mortiser"), true)
	assert.False(t, e.Checks()[1].Due, "a week since the baseline's end is not over")
	e.lived(at(7, 17), e.aloneSet("mortiser"), false)
	w = e.Checks()[1]
	require.True(t, w.Due)
	assert.Equal(t, at(7, 16), w.Since)
	assert.Len(t, w.Sets, len(e.checks.walk)-2, "but for the two that have been run")
	assert.NotContains(t, w.Sets, []string{"band saw gate"})
	e.lived(at(10, 9), e.aloneSet("mortiser"), true)
	w = e.Checks()[1]
	assert.Equal(t, []string{"band saw gate"}, w.Sets[len(w.Sets)-1])
	for _, g := range e.checks.walk {
		e.lived(at(10, 10), g, false)
	}
	assert.False(t, e.Checks()[1].Due)
}

// TestAHuntIsToldByTheJournal, and ends by it or by itself.
func TestAHuntIsToldByTheJournal(t *testing.T) {
	e, d := suspecting(t, 4000)
	trunkOrDrop(t, e)
	e.plan(d)
	is := func() bool { on, _ := e.Hunting(); return on }
	e.Entry(journal.Entry{Kind: journal.LeakHunt, Subject: "another collector"})
	assert.False(t, is())
	e.Entry(journal.Entry{Kind: journal.LeakHunt, Subject: "main"})
	on, test := e.Hunting()
	assert.True(t, on)
	assert.Equal(t, e.NextTest().Tests[0].Duration, test)
	e.Entry(journal.Entry{Kind: journal.LeakHuntEnded})
	assert.False(t, is())
	e.Entry(journal.Entry{Kind: journal.LeakHunt})
	for range 5 {
		e.hunt.run(&steady.Run{FanHours: 0.39})
	}
	assert.True(t, is())
	e.hunt.run(&steady.Run{FanHours: 0.1})
	assert.False(t, is(), "after two hours of fan nobody hunts any more")
	e.Entry(journal.Entry{Kind: journal.LeakHunt})
	e.hunt.run(&steady.Run{Start: 30 * time.Hour, End: 31 * time.Hour, FanHours: 0.1})
	assert.True(t, is(), "it was told before the first run of its day")
	e.hunt.run(&steady.Run{Start: 54 * time.Hour, End: 55 * time.Hour, FanHours: 0.1})
	assert.False(t, is(), "it ends with its day")
}

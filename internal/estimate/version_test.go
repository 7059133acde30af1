//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/detect"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/watch"
)

// evening is after the work of a day.
func evening(d int) time.Time { return day(d).Add(18 * time.Hour) }

// TestARejectedBaselineGivesWayToTheOneBefore: a leak that was part of what is usual is told again, as it was known, and
// the days say which baseline judged them.
func TestARejectedBaselineGivesWayToTheOneBefore(t *testing.T) {
	t.Parallel()
	l := live(t, scene{seed: 104, days: 26, work: everyDay,
		faults: []plant.Fault{{Day: 7, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: "run:trunk 5", Size: 80.0 / 3600}},
		entries: []journal.Entry{
			{Time: evening(11), Kind: journal.Baseline},
			{Time: evening(18), Kind: journal.BaselineRejected, Note: journal.VersionNote(2, "the leak is in it"), By: "Ada"},
			{Time: evening(19), Kind: journal.BaselineAccepted, Note: journal.VersionNote(1, ""), By: "Ben"},
		}})
	b := l.watched.Baseline
	require.True(t, b.Complete)
	assert.Equal(t, 1, b.Version)
	require.Len(t, b.Versions, 2)
	assert.True(t, b.Versions[0].Stands && !b.Versions[1].Stands)
	assert.Equal(t, "Ben", b.Versions[0].AcceptedBy)
	assert.Equal(t, "Ada", b.Versions[1].RejectedBy)
	assert.True(t, b.Versions[0].To.Before(b.Versions[1].From))
	found := l.leaks()
	require.Len(t, found, 2, "told, ended by the new baseline, told again: %s", say(found))
	assert.InDelta(t, 11, daysUntil(found[0].Ended), 1)
	assert.True(t, found[1].Active())
	assert.InDelta(t, 18, daysUntil(found[1].Raised), 1)
	assert.Equal(t, found[0].Onset, found[1].Onset, "it is the same leak")
	assert.NotEqual(t, found[0].ID, found[1].ID)
	judged := 0
	for d, e := range l.watched.Days {
		switch {
		case d <= 11:
			assert.Equal(t, 1, e.Baseline, "day %d", d)
		case d <= 16:
			assert.Equal(t, 2, e.Baseline, "the baseline's own days: day %d", d)
		case d == 17 || d == 18:
			assert.Equal(t, 2, e.Baseline, "day %d", d)
			assert.InDelta(t, 0, 3600*e.Leakage.V, 15, "m³/h against the rejected one: day %d", d)
		case d > 19:
			assert.Equal(t, 1, e.Baseline, "day %d", d)
			assert.InDelta(t, 80, 3600*e.Leakage.V, 20, "m³/h against the old one: day %d", d)
			judged++
		}
	}
	assert.Equal(t, 6, judged)
	p := l.watched.Promise
	assert.Equal(t, 7+7, p.Watched, "days 5 to 11, and from 19 on")
	assert.Positive(t, p.Within)
	assert.Empty(t, l.of(finding.LeakMended), "nobody mended it")
}

// TestABaselineInTheMakingCanBeGivenUp, and what has been asked for by mistake before it has begun.
func TestABaselineInTheMakingCanBeGivenUp(t *testing.T) {
	t.Parallel()
	l := live(t, scene{seed: 105, days: 16, work: everyDay, entries: []journal.Entry{
		{Time: evening(6), Kind: journal.Baseline},
		{Time: evening(6).Add(time.Minute), Kind: journal.BaselineRejected}, // at once
		{Time: evening(8), Kind: journal.Baseline, Subject: "main"},
		{Time: evening(10), Kind: journal.BaselineRejected, Subject: "main"}, // after two days
		{Time: evening(12), Kind: journal.BaselineRestored, Note: "version 9"},
		{Time: evening(12), Kind: journal.BaselineRejected, Subject: "annex", Note: "version 1"},
	}})
	b := l.watched.Baseline
	require.True(t, b.Complete)
	assert.Equal(t, 1, b.Version)
	require.Len(t, b.Versions, 1)
	assert.True(t, b.Versions[0].Rejected.IsZero(), "another collector's")
	for d, e := range l.watched.Days {
		assert.Equal(t, d == 9 || d == 10, math.IsNaN(e.Leakage.V) && d > 5, "judged but while another was in the making: day %d", d)
	}
	assert.Empty(t, l.alarms(), say(l.alarms()))
}

// TestTheFirstBaselineRejectedIsTakenAnew: there is none before it to go back to. It can be wanted back all the same. The
// baseline shows how far each gate set lies from the calibrated model; their root mean square is the misfit.
func TestTheFirstBaselineRejectedIsTakenAnew(t *testing.T) {
	t.Parallel()
	l := live(t, scene{seed: 106, days: 12, work: everyDay, entries: []journal.Entry{
		{Time: evening(5), Kind: journal.BaselineRejected, Note: "version 1"},
		{Time: day(11).Add(time.Hour), Kind: journal.BaselineRestored, Note: "version 1"},
	}})
	b := l.watched.Baseline
	require.Len(t, b.Versions, 2)
	assert.Equal(t, 6, daysUntil(b.Versions[1].From))
	assert.Equal(t, 1, b.Version, "it was wanted back")
	assert.True(t, b.Versions[0].Rejected.IsZero())

	require.Len(t, b.Sets, b.Versions[0].GateSets)
	sum, n, runs := 0.0, 0.0, 0
	for _, s := range b.Sets {
		require.Len(t, s.Channels, 3, "filter drop, static, velocity")
		assert.Positive(t, s.Days)
		runs += s.Runs
		for _, c := range s.Channels {
			assert.Positive(t, c.Misfit.SE)
			sum += c.Misfit.V * c.Misfit.V
			n++
		}
	}
	assert.InEpsilon(t, b.MisfitRMS, math.Sqrt(sum/n), 1e-9)
	assert.GreaterOrEqual(t, runs, b.RunsNeeded)
	assert.Equal(t, 5, b.DaysNeeded)
	assert.Nil(t, b.Walk, "nothing is in the making")
}

// TestThePromiseSaysWhatTheSearchKeepsTo: the threshold is the one at which a scan of pure noise, in all directions
// together, crosses as often as may be.
func TestThePromiseSaysWhatTheSearchKeepsTo(t *testing.T) {
	s, err := demoShop()
	require.NoError(t, err)
	w, err := watch.New(s)
	require.NoError(t, err)
	p := w.Snapshot().Collectors[0].Promise
	require.NotNil(t, p)
	rate := detect.ScanRate(p.Threshold, p.Window) * float64(p.Directions) * float64(p.WorkingDays) // crossings a year
	assert.InEpsilon(t, p.PerYear*p.Share, rate, 1e-6)
	assert.Zero(t, p.Watched)
	assert.True(t, math.IsNaN(p.Within) && math.IsNaN(p.Between) && p.Inflation == 1)

	s.Collectors[0].Network = nil
	w, err = watch.New(s)
	require.NoError(t, err)
	assert.Nil(t, w.Snapshot().Collectors[0].Promise)
}

//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

// TestTheBaselineTakesFiveWorkingDays, no more and no fewer, and says what it lacks until then.
func TestTheBaselineTakesFiveWorkingDays(t *testing.T) {
	t.Parallel()
	var seen []estimate.Baseline
	l := live(t, scene{seed: 101, days: 10, hook: func(_ int, w *watch.Watch) {
		seen = append(seen, w.Snapshot().Collectors[0].Baseline)
	}})
	worked := 0
	var dates []string
	for d, b := range seen {
		// the fifth day is only over when the next one begins
		assert.Equal(t, worked >= 5 && l.truth[d].runs > 0 || worked > 5, b.Complete, "after day %d, %d days of work before it", d, worked)
		if l.truth[d].runs > 0 {
			worked++
			dates = append(dates, day(d).Format("2006-01-02"))
		}
		if b.Complete {
			assert.Empty(t, b.Lacks)
			continue
		}
		assert.True(t, math.IsNaN(b.MisfitRMS))
		assert.Contains(t, b.Lacks, "5 working days")
		assert.NotRegexp(t, broken, b.Lacks)
	}
	b := l.watched.Baseline
	assert.True(t, b.Complete)
	assert.Equal(t, 1, b.Version)
	assert.Equal(t, dates[0], b.From.Format("2006-01-02"))
	assert.Equal(t, dates[4], b.To.Format("2006-01-02"))
	assert.Greater(t, b.GateSets, 40, "a week of work opens the gates in many ways")
	// the plant is built 10 % beside its drawing, and most of that the model is fitted to
	assert.Greater(t, b.MisfitRMS, 0.001)
	assert.Less(t, b.MisfitRMS, 0.01)
	for _, d := range l.watched.Days {
		if d.FanHours > 0 {
			assert.False(t, math.IsNaN(d.FilterRatio.V), "the baseline's own days have their filter: %s", d.Date)
		}
	}
	assert.Empty(t, l.alarms(), say(l.alarms()))
}

// TestANewBaselineSupersedesTheOld: what was found against it is ended, the trend begins anew, and the leak is part of
// what is usual.
func TestANewBaselineSupersedesTheOld(t *testing.T) {
	t.Parallel()
	const asked = 18
	l := live(t, scene{seed: 102, days: 30, work: everyDay, faults: leakAt("run:trunk 5", 80, nil),
		entries: []journal.Entry{
			{Time: day(3), Kind: journal.Sealed, Subject: "trunk 5"}, // asks for nothing
			{Time: day(asked).Add(18 * time.Hour), Kind: journal.Baseline, Note: "it stays as it is"},
		}})
	found := l.leaks()
	require.Len(t, found, 1, say(found))
	assert.InDelta(t, asked, daysUntil(found[0].Ended), 1, say(found))
	b := l.watched.Baseline
	require.True(t, b.Complete)
	assert.Equal(t, 2, b.Version)
	assert.Equal(t, asked+1, daysUntil(b.From))
	assert.Equal(t, asked+5, daysUntil(b.To))
	base := math.NaN()
	for d, e := range l.watched.Days {
		switch {
		case d == asked:
			assert.True(t, math.IsNaN(e.FilterRatio.V) || math.Abs(3600*e.Leakage.V-80) < 20, "the last day against the old one: %+v", e.Leakage)
		case d > asked && d < asked+5:
			assert.True(t, math.IsNaN(e.Leakage.V), "the line is broken while the new one is made: day %d", d)
		case d > asked+6:
			assert.InDelta(t, 0, 3600*e.Leakage.V, 12, "m³/h, new since the new baseline: day %d", d)
			base = e.Leakage.V
		}
	}
	assert.False(t, math.IsNaN(base))
	for _, f := range l.alarms() {
		assert.True(t, daysUntil(f.Raised) <= asked || !f.Active(), say(l.alarms()))
	}
	assert.Empty(t, l.of(finding.LeakMended), "nobody mended it")
}

// TestADuctThatWasChangedAsksForANewBaseline, one of another collector does not.
func TestADuctThatWasChangedAsksForANewBaseline(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		kind    journal.Kind
		subject string
		renewed bool
	}{
		{journal.DuctChanged, "trunk 4", true},
		{journal.SensorChanged, "filter drop", true},
		{journal.SensorChanged, "main/trunk static", true},
		{journal.Baseline, "main", true},
		{journal.DuctChanged, "planer gate", true},
		{journal.DuctChanged, "band saw", true},
		{journal.Baseline, "annex", false},
		{journal.Check, "", false},
		{journal.BinEmptied, "", false},
	} {
		l := live(t, scene{seed: 103, days: 8, work: everyDay, entries: []journal.Entry{{Time: day(6).Add(time.Hour), Kind: c.kind, Subject: c.subject}}})
		assert.Equal(t, !c.renewed, l.watched.Baseline.Complete, "%s %q", c.kind, c.subject)
	}
}

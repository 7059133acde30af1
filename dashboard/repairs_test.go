package dashboard

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/journal"
)

// sealedFake is the shop whose leak somebody sealed ten days ago, after which so much of it is left (m³/h).
func sealedFake(left float64) *fake {
	f := newFake()
	days := f.collector().Days
	for i := range days {
		if days[i].Date > testNow.AddDate(0, 0, -10).Format(time.DateOnly) {
			days[i].Leakage = m3h(left, 2)
		}
	}
	f.entries = append(f.entries, journal.Entry{Time: testNow.AddDate(0, 0, -10), Kind: journal.Sealed, Subject: "trunk 5", Note: "new tape", By: "Ann"})
	return f
}

// TestAfterARepairItIsSaidHowMuchCameBack, or that it cannot be told.
func TestAfterARepairItIsSaidHowMuchCameBack(t *testing.T) {
	for left, want := range map[float64]string{1: "came back.", 11: "cannot be told from these days", 40: "it became worse"} {
		f := sealedFake(left)
		c, leak := f.collector(), &f.collector().Findings[2]
		s := &server{Config: f.config(), units: unitsOf("", "")}
		lines := s.repairLines(c, leak, f.entries, testNow)
		require.Len(t, lines, 1)
		assert.Equal(t, "Seam re-sealed at trunk 5, 15 November, by Ann: new tape", lines[0].What)
		assert.Contains(t, lines[0].Worked, "New leakage was ")
		assert.Contains(t, lines[0].Worked, want, "%v left", left)
		got := s.repairs(c, leak, f.entries)[0]
		assert.InDelta(t, got.was.V-got.is.V, got.back.V, 1e-12)
		assert.Less(t, got.was.SE, 3.0/3600, "a day with a check is taken, and not one without")
		assert.Contains(t, get(t, f.handler(t), "/findings").Body.String(), "Seam re-sealed at trunk 5")
	}
}

// TestWhatIsNotAboutAFindingIsNoRepairOfIt: before it began, elsewhere, of another kind, corrected since, or against another
// baseline.
func TestWhatIsNotAboutAFindingIsNoRepairOfIt(t *testing.T) {
	f := sealedFake(1)
	c, leak := f.collector(), &f.collector().Findings[2]
	s := &server{Config: f.config(), units: unitsOf("", "")}
	e := f.entries[len(f.entries)-1]
	with := func(change func(*journal.Entry)) []repair {
		x := e
		change(&x)
		return s.repairs(c, leak, []journal.Entry{x})
	}
	assert.Len(t, with(func(*journal.Entry) {}), 1)
	assert.Empty(t, with(func(e *journal.Entry) { e.Time = leak.Onset.AddDate(0, 0, -1) }))
	assert.Empty(t, with(func(e *journal.Entry) { e.Subject = "trunk 1" }))
	assert.Empty(t, with(func(e *journal.Entry) { e.Kind = journal.BinEmptied }))
	assert.Empty(t, s.repairs(c, leak, []journal.Entry{e, {Time: e.Time, Kind: journal.Other, Corrects: 1}}))

	for i := range c.Days {
		if c.Days[i].Date > "2026-11-15" {
			c.Days[i].Baseline = 3
		}
	}
	lines := s.repairLines(c, leak, f.entries, testNow)
	require.Len(t, lines, 1)
	assert.Contains(t, lines[0].Worked, "will be told when")
}

// TestWhatAPersonFoundStandsAtTheFinding.
func TestWhatAPersonFoundStandsAtTheFinding(t *testing.T) {
	f := newFake()
	f.alarms[0].Response = &alarm.Response{By: "Ann", At: testNow, Found: "a torn hose", Action: "changed it"}
	assert.Contains(t, get(t, f.handler(t), "/findings").Body.String(), "today, Ann, found: a torn hose. Done: changed it")
}

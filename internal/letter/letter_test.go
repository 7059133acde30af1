package letter

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/outbox"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func origin() Origin {
	return Origin{Shop: "Elm Lane", Boot: 3, At: noon, To: []string{"mail", "syslog"}, Zone: time.FixedZone("CET", 3600)}
}

// leak is an alarm from its rise to its end.
func leak(t *testing.T) (*alarm.Manager, alarm.Alarm) {
	t.Helper()
	f := finding.Finding{ID: "leak-7", Collector: "main", Kind: finding.NewLeak, Subject: "trunk 3", Priority: finding.ActToday,
		Onset: noon.AddDate(0, 0, -3), Confidence: 0.9,
		Raised: noon, Text: "7 L/s (5 to 9) leak into trunk 3 since Friday. It is large.", Action: "Look at the flange."}
	m := alarm.NewManager(nil, alarm.DefaultOptions())
	list := m.Update(noon, []finding.Finding{f})
	require.Len(t, list, 1)
	return m, list[0]
}

func TestALetterSaysWhatToDoAndWhatCanHurt(t *testing.T) {
	_, a := leak(t)
	require.True(t, Tells(&a))
	l := OfAlarm(origin(), a)
	assert.Equal(t, "leak-7.1.raised", l.ID)
	assert.Equal(t, l.ID, OfAlarm(origin(), a).ID, "the same event is the same letter")
	assert.Equal(t, outbox.Alarm, l.Kind)
	assert.Equal(t, "Elm Lane: act today: 7 L/s (5 to 9) leak into trunk 3 since Friday", l.Subject)
	for _, words := range []string{"Act today. Raised Monday 2 March 2026, 13:00;", "What to do: Look at the flange.", "lock out the fan",
		"Do not shut every gate", "not a safety instrument", "It began about Friday 27 February 2026, 13:00.", "a probability of 90 %",
		"1. A seam or a joint of the duct leaks. It shows", "If it waits: Every machine has less air", "It clears when",
		"told to: mail, syslog."} {
		assert.Contains(t, l.Text, words)
	}
	assert.Less(t, strings.Index(l.Text, "What to do"), strings.Index(l.Text, "lock out"))
}

func TestWhatPeopleDoIsToldAndEntered(t *testing.T) {
	m, _ := leak(t)
	a, err := m.Acknowledge("leak-7", "Ines", noon.Add(time.Hour))
	require.NoError(t, err)
	assert.Contains(t, OfAlarm(origin(), a).Text, "Seen by Ines")
	e := Entry(a, noon.Add(2*time.Hour))
	assert.Equal(t, "Ines", e.By)
	assert.Equal(t, noon.Add(time.Hour), e.Time)
	assert.Equal(t, "acknowledged", e.Event)

	a, err = m.Shelve("leak-7", "Ines", "mastic comes tomorrow", noon.Add(time.Hour), noon.Add(20*time.Hour), false)
	require.NoError(t, err)
	assert.True(t, Tells(&a))
	assert.Contains(t, OfAlarm(origin(), a).Text, "Shelved by Ines until Tuesday 3 March 2026, 09:00: mastic comes tomorrow")
	assert.Contains(t, Entry(a, noon).Note, "mastic comes tomorrow")

	a, err = m.Confirm("leak-7", "Ben", "screw hole", "sealed", noon.Add(3*time.Hour))
	require.NoError(t, err)
	e = Entry(a, noon)
	assert.Equal(t, []string{"Ben", "screw hole", "sealed"}, []string{e.By, e.Note, e.Action})
	assert.False(t, Tells(&a), "it is shelved")
	a, err = m.Unshelve("leak-7", "Ben", noon.Add(4*time.Hour))
	require.NoError(t, err)
	assert.True(t, Tells(&a), "it is active, and back")
	assert.Equal(t, "Ben", Entry(a, noon).By)

	for _, e := range []alarm.Event{"", alarm.Suppressed, alarm.Unsuppressed} {
		assert.False(t, Tells(&alarm.Alarm{Event: e, State: alarm.ActiveUnacknowledged}), string(e))
	}
}

func TestTheCalendarsLetters(t *testing.T) {
	due := noon.Add(-time.Hour)
	l := OfHeartbeat(origin(), due, Alive{Since: noon, Next: noon.Add(24 * time.Hour), Standing: 1, Sensors: 3, Faulty: 1})
	assert.Equal(t, "heartbeat.20260302T110000Z", l.ID)
	assert.Contains(t, l.Text, "1 alarm stands; 1 of 3 sensors yield no reading")
	assert.Contains(t, l.Text, "The next sign of life comes Tuesday 3 March 2026, 13:00")

	l = OfWeek(origin(), due, Week{From: noon.AddDate(0, 0, -7), To: noon, Done: []string{"Mon 2 Mar:\n filter-cleaned"}, Head: "ab12", Entries: 7})
	assert.Contains(t, l.Text, "What was done\n- Mon 2 Mar: filter-cleaned\n")
	assert.Contains(t, l.Text, "7 entries; the head of their chain is ab12")
	assert.Contains(t, l.Text, "It does not show whether an entry was true")
	assert.NotEqual(t, OfTest(origin(), "Ines").ID, OfTest(Origin{At: noon.Add(1)}, "").ID)
	assert.Contains(t, OfTest(origin(), "Ines").Text, "Ines asked for it.")
}

func TestALongSubjectIsCut(t *testing.T) {
	assert.LessOrEqual(t, len([]rune(brief(strings.Repeat("ö", 300)))), longestSubject+1)
	assert.Equal(t, "one", brief("one. Two."))
}

package alarm_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
)

var monday = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

// at returns a moment some minutes after Monday morning.
func at(minutes int) time.Time { return monday.Add(time.Duration(minutes) * time.Minute) }

// delays are round numbers that no default has.
var delays = alarm.Options{
	ActToday:   alarm.Delay{On: 2 * time.Minute, Off: 4 * time.Minute},
	Plan:       alarm.Delay{On: 2 * time.Minute, Off: 4 * time.Minute},
	Instrument: alarm.Delay{On: 2 * time.Minute, Off: 4 * time.Minute},
	Refresh:    10 * time.Minute,
}

func leak(id string, raised int) finding.Finding {
	return finding.Finding{ID: id, Collector: "main", Kind: finding.NewLeak, Subject: "trunk 1",
		Priority: finding.Plan, Raised: at(raised), Text: "air leaks in", Action: "look at the gates"}
}

func ended(f finding.Finding, minute int) finding.Finding {
	f.Ended = at(minute)
	return f
}

func urgent(f finding.Finding) finding.Finding {
	f.Priority = finding.ActToday
	return f
}

// step is one thing that happens: an update with these findings, or an acknowledgement.
type step struct {
	minute   int
	findings []finding.Finding
	ack      string      // name; "" is an update
	want     alarm.State // of alarm "a"; "" is no alarm at all
	changed  bool
}

func TestEveryTransition(t *testing.T) {
	f := leak("a", 0)
	on := []finding.Finding{f}
	off := []finding.Finding{ended(f, 10)}
	raise := step{minute: 2, findings: on, want: alarm.ActiveUnacknowledged, changed: true}
	see := step{minute: 3, ack: "Ines Holm", want: alarm.ActiveAcknowledged, changed: true}
	over := step{minute: 14, findings: off, want: alarm.ClearedUnacknowledged, changed: true}
	cases := []struct {
		name  string
		steps []step
	}{
		{"nothing before the on-delay", []step{{minute: 1, findings: on}}},
		{"a passing trouble raises nothing", []step{{minute: 1, findings: on}, {minute: 2}, {minute: 9}}},
		{"cleared, rise: active, unacknowledged", []step{raise}},
		{"active, unacknowledged stays", []step{raise, {minute: 5, findings: on, want: alarm.ActiveUnacknowledged}}},
		{"active, unacknowledged, acknowledge: active, acknowledged", []step{raise, see}},
		{"active, unacknowledged, fall waits for the off-delay", []step{raise,
			{minute: 13, findings: off, want: alarm.ActiveUnacknowledged}}},
		{"active, unacknowledged, fall: cleared, unacknowledged", []step{raise, over}},
		{"back within the off-delay: never cleared", []step{raise,
			{minute: 12, findings: off, want: alarm.ActiveUnacknowledged},
			{minute: 13, findings: on, want: alarm.ActiveUnacknowledged},
			{minute: 14, findings: on, want: alarm.ActiveUnacknowledged}}},
		{"active, acknowledged, fall: cleared", []step{raise, see,
			{minute: 14, findings: off, want: alarm.Normal, changed: true}}},
		{"active, acknowledged, escalate: active, unacknowledged", []step{raise, see,
			{minute: 5, findings: []finding.Finding{urgent(f)}, want: alarm.ActiveUnacknowledged, changed: true}}},
		{"active, acknowledged stays when it asks for less", []step{
			{minute: 2, findings: []finding.Finding{urgent(f)}, want: alarm.ActiveUnacknowledged, changed: true}, see,
			{minute: 5, findings: on, want: alarm.ActiveAcknowledged, changed: true}}},
		{"cleared, unacknowledged, acknowledge: cleared", []step{raise, over,
			{minute: 15, ack: "Ines Holm", want: alarm.Normal, changed: true}}},
		{"cleared, unacknowledged, rise: active, unacknowledged", []step{raise, over,
			{minute: 30, findings: []finding.Finding{leak("b", 20)}, want: alarm.ActiveUnacknowledged, changed: true}}},
		{"cleared, unacknowledged, rise waits for the on-delay", []step{raise, over,
			{minute: 21, findings: []finding.Finding{leak("b", 20)}, want: alarm.ClearedUnacknowledged}}},
		{"cleared, the same finding again: the same alarm", []step{raise, see,
			{minute: 14, findings: off, want: alarm.Normal, changed: true},
			{minute: 20, findings: on, want: alarm.ActiveUnacknowledged, changed: true}}},
		{"a finding that turns into a journal line clears", []step{raise,
			{minute: 5, findings: []finding.Finding{journalLine(f)}, want: alarm.ActiveUnacknowledged},
			{minute: 9, findings: []finding.Finding{journalLine(f)}, want: alarm.ClearedUnacknowledged, changed: true}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m := alarm.NewManager(nil, delays)
			for _, s := range c.steps {
				run(t, m, s)
			}
		})
	}
}

func journalLine(f finding.Finding) finding.Finding {
	f.Priority = finding.Journal
	return f
}

func run(t *testing.T, m *alarm.Manager, s step) {
	t.Helper()
	changed := false
	if s.ack != "" {
		_, err := m.Acknowledge("a", s.ack, at(s.minute))
		require.NoError(t, err)
		changed = true
	} else {
		changed = len(m.Update(at(s.minute), s.findings)) > 0
	}
	assert.Equal(t, s.changed, changed, "changed at minute %d", s.minute)
	list := m.List()
	if s.want == "" {
		require.Empty(t, list, "minute %d", s.minute)
		return
	}
	require.Len(t, list, 1, "minute %d", s.minute)
	assert.Equal(t, s.want, list[0].State, "minute %d", s.minute)
}

func TestJournalFindingsRaiseNothing(t *testing.T) {
	m := alarm.NewManager(nil, alarm.Options{})
	assert.Empty(t, m.Update(monday, []finding.Finding{journalLine(leak("a", 0))}))
	assert.Empty(t, m.List())
}

func TestOneCauseOneAlarm(t *testing.T) {
	m := alarm.NewManager(nil, alarm.Options{})
	require.Len(t, m.Update(at(0), []finding.Finding{leak("a", 0)}), 1)
	second := leak("b", 5)
	second.Text = "more air leaks in"
	changed := m.Update(at(5), []finding.Finding{leak("a", 0), second})
	require.Len(t, changed, 1)
	assert.Equal(t, "a", changed[0].ID, "the standing alarm keeps its identity")
	assert.Equal(t, "b", changed[0].Finding)
	assert.Equal(t, "more air leaks in", changed[0].Text)
	assert.Equal(t, 1, changed[0].Times)
	assert.Len(t, m.List(), 1)
}

func TestAnAlarmGoesWithItsFinding(t *testing.T) {
	m := alarm.NewManager(nil, alarm.Options{})
	f := leak("a", 0)
	m.Update(at(0), []finding.Finding{f})
	_, err := m.Acknowledge("a", "Ines Holm", at(1))
	require.NoError(t, err)
	f.Subject, f.Text = "trunk 2", "air leaks in at trunk 2"
	changed := m.Update(at(2), []finding.Finding{f})
	require.Len(t, changed, 1)
	assert.Equal(t, "a", changed[0].ID)
	assert.Equal(t, "main/new-leak/trunk 2", changed[0].Cause)
	assert.Equal(t, "air leaks in at trunk 2", changed[0].Text)
	assert.Equal(t, alarm.ActiveAcknowledged, changed[0].State, "it is the same trouble")
	assert.Len(t, m.List(), 1)

	m = alarm.NewManager(throughJSON(t, m.List()), alarm.Options{})
	assert.Empty(t, m.Update(at(3), []finding.Finding{f}))
	changed = m.Update(at(4), []finding.Finding{ended(f, 4)})
	require.Len(t, changed, 1)
	assert.Equal(t, alarm.Normal, changed[0].State)
}

func TestAnotherFindingAfterItIsOverIsAnotherAlarm(t *testing.T) {
	m := alarm.NewManager(nil, alarm.Options{})
	m.Update(at(0), []finding.Finding{leak("a", 0)})
	_, err := m.Acknowledge("a", "Ines Holm", at(1))
	require.NoError(t, err)
	m.Update(at(2), nil)
	changed := m.Update(at(3), []finding.Finding{leak("b", 3)})
	require.Len(t, changed, 1)
	assert.Equal(t, "b", changed[0].ID)
	assert.Len(t, m.List(), 2)
	require.Len(t, m.Standing(), 1)
}

func TestWordsAreRenewedSeldom(t *testing.T) {
	m := alarm.NewManager(nil, delays)
	f := leak("a", 0)
	m.Update(at(2), []finding.Finding{f})
	f.Text = "12 L/s leak in"
	assert.Empty(t, m.Update(at(5), []finding.Finding{f}))
	changed := m.Update(at(12), []finding.Finding{f})
	require.Len(t, changed, 1)
	assert.Equal(t, "12 L/s leak in", changed[0].Text)
	assert.Empty(t, m.Update(at(30), []finding.Finding{f}), "the same words again are no change")
}

func TestAcknowledgeRefuses(t *testing.T) {
	m := alarm.NewManager(nil, alarm.Options{})
	m.Update(at(0), []finding.Finding{leak("a", 0)})
	_, err := m.Acknowledge("zz", "Ines Holm", at(1))
	require.ErrorIs(t, err, alarm.ErrUnknown)
	for _, name := range []string{"", " \t", string(make([]byte, 81))} {
		_, err = m.Acknowledge("a", name, at(1))
		require.ErrorIs(t, err, alarm.ErrNoName)
	}
	a, err := m.Acknowledge("a", "  Ines   Holm ", at(1))
	require.NoError(t, err)
	assert.Equal(t, "Ines Holm", a.AckedBy)
	assert.Equal(t, at(1), a.Acked)
	_, err = m.Acknowledge("a", "Joost", at(2))
	require.ErrorIs(t, err, alarm.ErrDone)
	assert.ErrorContains(t, err, "Ines Holm")
	assert.Equal(t, "Ines Holm", m.List()[0].AckedBy, "a second name does not overwrite the first")
}

func TestRestartNeitherRepeatsNorLoses(t *testing.T) {
	findings := []finding.Finding{leak("a", 0)}
	m := alarm.NewManager(nil, delays)
	require.Len(t, m.Update(at(3), findings), 1)
	_, err := m.Acknowledge("a", "Ines Holm", at(4))
	require.NoError(t, err)

	m = alarm.NewManager(throughJSON(t, m.List()), delays)
	assert.Empty(t, m.Update(at(5), findings), "still so: nothing to say")
	require.Len(t, m.List(), 1)
	assert.Equal(t, "Ines Holm", m.List()[0].AckedBy)

	// It ended while nobody watched: the off-delay counts from then, not from the restart.
	m = alarm.NewManager(throughJSON(t, m.List()), delays)
	changed := m.Update(at(100), []finding.Finding{ended(findings[0], 50)})
	require.Len(t, changed, 1)
	assert.Equal(t, alarm.Normal, changed[0].State)
}

func TestClockSetBackDoesNotHoldAnAlarmUp(t *testing.T) {
	m := alarm.NewManager(nil, delays)
	m.Update(at(600), []finding.Finding{leak("a", 599)})
	assert.Empty(t, m.Update(at(1), []finding.Finding{leak("a", 599)}))
	assert.Len(t, m.Update(at(3), []finding.Finding{leak("a", 599)}), 1)
}

func TestTwoStandingOfOneCauseInAnEditedStore(t *testing.T) {
	a := alarm.Alarm{ID: "a", Cause: "main/new-leak/trunk 1", State: alarm.ActiveUnacknowledged, Raised: at(1)}
	b := a
	b.ID, b.Raised = "b", at(2)
	m := alarm.NewManager([]alarm.Alarm{b, a}, delays)
	standing := m.Standing()
	require.Len(t, standing, 1)
	assert.Equal(t, "b", standing[0].ID)
}

func TestIdentityOfAnotherCauseIsNotTaken(t *testing.T) {
	m := alarm.NewManager(nil, alarm.Options{})
	other := leak("a", 0)
	other.Subject = "trunk 2"
	require.Len(t, m.Update(at(0), []finding.Finding{leak("a", 0), other}), 2)
	list := m.List()
	require.Len(t, list, 2)
	assert.NotEqual(t, list[0].ID, list[1].ID)
}

func TestStandingPutsTheUrgentFirst(t *testing.T) {
	m := alarm.NewManager(nil, alarm.Options{})
	lost := finding.Finding{ID: "s", Collector: "main", Kind: finding.SensorLost, Subject: "main/filter drop",
		Priority: finding.Instrument}
	short := finding.Finding{ID: "z", Collector: "main", Kind: finding.AirShort, Subject: "saw",
		Priority: finding.ActToday}
	m.Update(at(0), []finding.Finding{lost})
	m.Update(at(1), []finding.Finding{lost, leak("a", 1)})
	m.Update(at(2), []finding.Finding{lost, leak("a", 1), short})
	var ids []string
	for _, a := range m.Standing() {
		ids = append(ids, a.ID)
	}
	assert.Equal(t, []string{"z", "a", "s"}, ids)
}

func throughJSON(t require.TestingT, list []alarm.Alarm) []alarm.Alarm {
	data, err := json.Marshal(list)
	require.NoError(t, err)
	var back []alarm.Alarm
	require.NoError(t, json.Unmarshal(data, &back))
	return back
}

func TestShiftMovesWhatAWrongClockLabelled(t *testing.T) {
	old := alarm.Alarm{ID: "old", Cause: "main/filter-due/", State: alarm.Normal, Raised: at(0), Cleared: at(1), Acked: at(2)}
	m := alarm.NewManager([]alarm.Alarm{old}, delays)
	start := time.Date(1970, 1, 1, 0, 0, 5, 0, time.UTC)
	f := finding.Finding{ID: "a", Collector: "main", Kind: finding.SensorLost, Priority: finding.Instrument}
	m.Update(start, []finding.Finding{f})
	now := start.Add(3 * time.Minute)
	require.Len(t, m.Update(now, []finding.Finding{f}), 1)

	by := at(10).Sub(now)
	changed := m.Shift(start, now, by)
	require.Len(t, changed, 1)
	assert.Equal(t, at(10), changed[0].Raised)
	assert.True(t, changed[0].Cleared.IsZero())
	list := m.List()
	assert.Equal(t, old, list[0], "what another boot has labelled stays")
	assert.Equal(t, changed[0], list[1])

	m.Update(at(11), nil) // gone
	assert.Empty(t, m.Update(at(14), nil), "and the delays go on by the new time")
	assert.Len(t, m.Update(at(15), nil), 1)
}

package alarm_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
)

// patient are delays of nothing, with round times for what asks again and what is shelved.
var patient = alarm.Options{
	ActToday: alarm.Delay{Again: 60 * time.Minute, Shelf: 24 * time.Hour},
	Plan:     alarm.Delay{Again: 600 * time.Minute, Shelf: 7 * 24 * time.Hour},
}

// raised is a manager with one alarm "a" of a plan, raised at minute 0.
func raised(t *testing.T) (*alarm.Manager, []finding.Finding) {
	t.Helper()
	m := alarm.NewManager(nil, patient)
	f := []finding.Finding{leak("a", 0)}
	require.Equal(t, []alarm.Event{alarm.Raised}, events(m.Update(at(0), f)))
	return m, f
}

func events(list []alarm.Alarm) (out []alarm.Event) {
	for _, a := range list {
		out = append(out, a.Event)
	}
	return out
}

func only(t *testing.T, m *alarm.Manager) *alarm.Alarm {
	t.Helper()
	list := m.List()
	require.Len(t, list, 1)
	return &list[0]
}

func TestAShelvedAlarmComesBackByItself(t *testing.T) {
	m, f := raised(t)
	a, err := m.Shelve("a", " Ines  Holm ", " waits for mastic ", at(1), at(61), false)
	require.NoError(t, err)
	assert.Equal(t, alarm.Shelving{By: "Ines Holm", Reason: "waits for mastic", From: at(1), Until: at(61)}, *a.Shelved)
	assert.True(t, a.Held())
	assert.Equal(t, alarm.ActiveUnacknowledged, a.State, "shelving acknowledges nothing")
	assert.Empty(t, m.Update(at(60), f))
	m = alarm.NewManager(throughJSON(t, m.List()), patient) // a restart keeps it on the shelf
	assert.Empty(t, m.Update(at(60), f))
	changed := m.Update(at(61), f)
	require.Equal(t, []alarm.Event{alarm.Unshelved}, events(changed))
	assert.False(t, changed[0].Held())
}

func TestShelvingIsOfTheCause(t *testing.T) {
	m, _ := raised(t)
	_, err := m.Shelve("a", "Ines", "known", at(1), at(100), false)
	require.NoError(t, err)
	_, err = m.Acknowledge("a", "Ines", at(2))
	require.NoError(t, err)
	m.Update(at(3), nil)
	assert.Equal(t, alarm.Normal, only(t, m).State)
	changed := m.Update(at(4), []finding.Finding{leak("b", 4)})
	require.Equal(t, []alarm.Event{alarm.Raised}, events(changed))
	assert.Equal(t, "a", changed[0].ID, "it is the same alarm while it is shelved")
	assert.True(t, changed[0].Held())
	assert.True(t, changed[0].Untold)
}

func TestShelvingOnceEndsWithTheAlarm(t *testing.T) {
	m, _ := raised(t)
	_, err := m.Shelve("a", "Ines", "known", at(1), at(100), true)
	require.NoError(t, err)
	require.Equal(t, []alarm.Event{alarm.Cleared}, events(m.Update(at(2), nil)))
	assert.False(t, only(t, m).Held())
}

func TestMoreUrgentComesOffTheShelf(t *testing.T) {
	m, f := raised(t)
	_, err := m.Shelve("a", "Ines", "known", at(1), at(100), false)
	require.NoError(t, err)
	changed := m.Update(at(2), []finding.Finding{urgent(f[0])})
	require.Equal(t, []alarm.Event{alarm.Urged}, events(changed))
	assert.False(t, changed[0].Held())
	assert.Equal(t, finding.ActToday, changed[0].Priority)
}

func TestWhatShelvingRefuses(t *testing.T) {
	m, f := raised(t)
	for name, do := range map[string]func() error{
		"no reason": func() error { _, err := m.Shelve("a", "Ines", " ", at(1), at(2), false); return err },
		"no name":   func() error { _, err := m.Shelve("a", "", "known", at(1), at(2), false); return err },
		"no end":    func() error { _, err := m.Shelve("a", "Ines", "known", at(1), at(1), false); return err },
		"too long": func() error {
			_, err := m.Shelve("a", "Ines", "known", at(1), at(2).Add(7*24*time.Hour), false)
			return err
		},
		"not shelved":      func() error { _, err := m.Unshelve("a", "Ines", at(1)); return err },
		"in service":       func() error { _, err := m.PutBack("a", "Ines", at(1)); return err },
		"nothing found":    func() error { _, err := m.Confirm("a", "Ines", "", "sealed", at(1)); return err },
		"no such alarm":    func() error { _, err := m.TakeOut("b", "Ines", "away", at(1)); return err },
		"out, no reason":   func() error { _, err := m.TakeOut("a", "Ines", "", at(1)); return err },
		"unshelve, nobody": func() error { _, err := m.Unshelve("a", "", at(1)); return err },
	} {
		assert.Error(t, do(), name)
	}
	m.Update(at(2), []finding.Finding{urgent(f[0])})
	_, err := m.Shelve("a", "Ines", "known", at(3), at(3).Add(25*time.Hour), false)
	assert.ErrorContains(t, err, "24h", "what must be acted on today is shelved for a day at most")
	assert.Equal(t, 2, only(t, m).Changes, "what is refused changes nothing")
}

func TestSuppressedByDesignIsToldAfterwards(t *testing.T) {
	off := func(string, finding.Kind) string { return "the fan is off" }
	m := alarm.NewManager(nil, patient)
	f := []finding.Finding{leak("a", 0)}
	changed := m.UpdateBy(at(0), f, off)
	require.Equal(t, []alarm.Event{alarm.Raised}, events(changed))
	assert.Equal(t, "the fan is off", changed[0].Suppressed)
	assert.True(t, changed[0].Untold)
	assert.Empty(t, m.UpdateBy(at(1), f, off))
	changed = m.UpdateBy(at(2), f, nil)
	require.Equal(t, []alarm.Event{alarm.Raised}, events(changed), "now it is told")
	assert.False(t, changed[0].Untold)
	assert.Equal(t, 1, changed[0].Times)

	changed = m.UpdateBy(at(3), f, off)
	require.Equal(t, []alarm.Event{alarm.Suppressed}, events(changed))
	changed = m.UpdateBy(at(4), f, nil)
	require.Equal(t, []alarm.Event{alarm.Unsuppressed}, events(changed), "it was told before: no second time")
	m.UpdateBy(at(5), f, off)
	assert.Equal(t, []alarm.Event{alarm.Cleared}, events(m.UpdateBy(at(6), nil, off)))
}

func TestOutOfServiceUntilSomebodyPutsItBack(t *testing.T) {
	m, f := raised(t)
	_, err := m.Acknowledge("a", "Ines", at(1))
	require.NoError(t, err)
	m.Update(at(2), nil)
	_, err = m.TakeOut("a", "Ines", "the sensor is away", at(3))
	require.NoError(t, err)
	m = alarm.NewManager(throughJSON(t, m.List()), patient)
	changed := m.Update(at(10000), []finding.Finding{leak("b", 10000)})
	require.Equal(t, []alarm.Event{alarm.Raised}, events(changed))
	assert.Equal(t, "a", changed[0].ID)
	assert.True(t, changed[0].Held())
	_, err = m.TakeOut("a", "Ines", "twice", at(10001))
	require.ErrorIs(t, err, alarm.ErrDone)
	a, err := m.PutBack("a", "Ines", at(10002))
	require.NoError(t, err)
	assert.Equal(t, alarm.Raised, a.Event, "it asked in vain and is told now")
	assert.False(t, a.Held())
	_ = f
}

func TestAnAlarmThatStandsAsksAgain(t *testing.T) {
	m := alarm.NewManager(nil, patient)
	f := []finding.Finding{urgent(leak("a", 0))}
	m.Update(at(0), f)
	_, err := m.Acknowledge("a", "Ines", at(1))
	require.NoError(t, err)
	assert.Empty(t, m.Update(at(59), f))
	changed := m.Update(at(60), f)
	require.Equal(t, []alarm.Event{alarm.Reminded}, events(changed))
	assert.Equal(t, alarm.ActiveUnacknowledged, changed[0].State)
	assert.Equal(t, at(0), changed[0].Raised, "since when it is so does not move")
	assert.Equal(t, 1, changed[0].Reminders)
	m = alarm.NewManager(throughJSON(t, m.List()), patient)
	assert.Empty(t, m.Update(at(119), f), "a restart repeats nothing")
	assert.Len(t, m.Update(at(120), f), 1)
	_, err = m.Shelve("a", "Ines", "known", at(121), at(400), false)
	require.NoError(t, err)
	assert.Empty(t, m.Update(at(300), f), "what is shelved does not ask")
}

func TestConfirmTellsWhatWasFound(t *testing.T) {
	m, _ := raised(t)
	a, err := m.Confirm("a", "Ines", "screw hole in trunk 1", "sealed with mastic", at(5))
	require.NoError(t, err)
	assert.Equal(t, alarm.Response{By: "Ines", At: at(5), Found: "screw hole in trunk 1", Action: "sealed with mastic"}, *a.Response)
	assert.Equal(t, alarm.ActiveUnacknowledged, a.State, "it clears nothing")
}

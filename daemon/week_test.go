package daemon

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/letter"
	"ductward/internal/outbox"
	"ductward/internal/shop"
	"ductward/internal/store"
	"ductward/internal/watch"
)

// weekly is a clerk at the end of a week in which something of every kind was.
func weekly(t *testing.T) *clerk {
	t.Helper()
	from, before := monday.AddDate(0, 0, -7), monday.AddDate(0, 0, -9)
	on := from.AddDate(0, 0, 2)
	s, err := store.Open(t.TempDir(), store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	sh := smallShop()
	sh.Checks = []shop.Check{{Name: "hoses and earth wires", Days: 1}, {Name: "the yearly one", Months: 12}}
	sh.Outbound.Mail = &shop.Mail{}
	require.NoError(t, s.PutShop(sh.Raw, before.AddDate(0, -1, 0)))
	for _, e := range []journal.Entry{
		{Time: before, Kind: journal.FilterCleaned, Subject: "main", Note: "the week before", By: "Ben"},
		{Time: on, Kind: journal.Sealed, Subject: "trunk 3", Note: "mastic", By: "Ines"},
		{Time: on, Kind: journal.Alarm, Alarm: "leak-7", Event: "acknowledged", Note: "plan: a leak", By: "Ines"},
		{Time: on, Kind: journal.Alarm, Alarm: "leak-7", Event: "raised", Note: "what the tool wrote", By: byItself},
	} {
		_, err := s.AddJournal(e)
		require.NoError(t, err)
	}
	dead := outbox.Item{Number: 1, Target: "mail", State: outbox.Dead, Ended: on, Last: "connection refused", Letter: outbox.Letter{ID: "x", Kind: outbox.Alarm, Subject: "Elm Lane: plan"}}
	require.NoError(t, s.PutItems([]outbox.Item{dead}))
	snap := &watch.Snapshot{ReferenceSuction: 1500, Collectors: []watch.Collector{{Name: "main",
		Findings: []finding.Finding{
			{ID: "leak-6", Kind: finding.NewLeak, Priority: finding.Plan, Raised: before, Ended: on, Text: "An old leak."},
			{ID: "leak-7", Kind: finding.NewLeak, Priority: finding.Plan, Raised: on, Text: "A leak in trunk 3."},
			{ID: "leak-5", Kind: finding.NewLeak, Priority: finding.Plan, Raised: before, Text: "One of the week before."}},
		Days: []estimate.Day{{Due: &estimate.Due{Low: monday.AddDate(0, 0, 6), High: monday.AddDate(0, 0, 11), Confidence: 0.8, Reason: "air-short:saw"}}, {}},
		Now:  estimate.Now{Leakage: estimate.Value{V: 36.0 / 3600, SE: 3.6 / 3600}}}}}
	f := &fold{store: s, alarms: alarm.NewManager([]alarm.Alarm{{ID: "leak-7", Cause: "main/new-leak/trunk 3", State: alarm.ActiveAcknowledged,
		Priority: finding.Plan, Text: "A leak in trunk 3."}}, alarm.DefaultOptions())}
	f.snapshot.Store(snap)
	clk := clock.NewVirtual(monday)
	box, err := outbox.New(s, []string{"mail"}, monday, outbox.DefaultOptions())
	require.NoError(t, err)
	return &clerk{teller: &teller{shop: sh, clk: clk, box: box}, fold: f, since: before}
}

func TestTheWeekSaysWhatWasInIt(t *testing.T) {
	c := weekly(t)
	text := letter.OfWeek(c.origin(), monday, c.week(monday)).Text
	entries, err := c.fold.store.Journal()
	require.NoError(t, err)
	for _, words := range []string{
		"Alarms that stand\n- plan, active, acknowledged: A leak in trunk 3.\n",
		"What changed\n- Wed 11 Mar: no longer so: An old leak.\n- Wed 11 Mar: A leak in trunk 3.\n",
		"Filter\n- main: to be cleaned between 22 March and 27 March 2026 (80 times in 100), because of the air that saw needs\n",
		"Leakage\n- main: 36 ± 4 m³/h at 1500 Pa, new since the baseline\n",
		"What was done\n- Wed 11 Mar: sealed trunk 3 (Ines) mastic\n- Wed 11 Mar: alarm (Ines) plan: a leak\n",
		"Checks due\n- hoses and earth wires, since ",
		"Not delivered\n- to mail: Elm Lane: plan (connection refused)\n",
		"4 entries; the head of their chain is " + journal.Head(entries).String(),
		"It does not show whether an entry was true",
	} {
		assert.Contains(t, text, words)
	}
	for _, words := range []string{"week before", "what the tool wrote", "the yearly one"} {
		assert.NotContains(t, text, words)
	}
}

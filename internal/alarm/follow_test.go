package alarm_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/alarm"
	"ductward/internal/finding"
)

// short is too little air at the saw for the leak "a".
func short() finding.Finding {
	return finding.Finding{ID: "s", Collector: "main", Kind: finding.AirShort, Subject: "saw", Priority: finding.Plan, Raised: at(0),
		Text: "the saw has too little air", Under: "a"}
}

func TestWhatFollowsHangsUnderItsCause(t *testing.T) {
	m := alarm.NewManager(nil, delays)
	changed := m.Update(at(2), []finding.Finding{leak("a", 0), short()})
	require.Len(t, changed, 1)
	assert.Equal(t, "a", changed[0].ID)
	assert.Equal(t, []string{"the saw has too little air"}, changed[0].Follows)
	m = alarm.NewManager(throughJSON(t, m.List()), delays)
	assert.Empty(t, m.Update(at(3), []finding.Finding{leak("a", 0), short()}), "a restart repeats nothing")
	_, err := m.Acknowledge("a", "Ines", at(3))
	require.NoError(t, err)

	changed = m.Update(at(4), []finding.Finding{leak("a", 0), urgent(short())})
	require.Equal(t, []alarm.Event{alarm.Urged}, events(changed), "what follows cannot wait, so its cause cannot")
	assert.Equal(t, finding.ActToday, changed[0].Priority)

	// The leak is mended. That the saw is short of air is its own trouble once that is said, and not before.
	over := ended(leak("a", 0), 10)
	assert.Equal(t, []alarm.Event{alarm.Cleared}, events(m.Update(at(14), []finding.Finding{over, short()})))
	own := short()
	own.Under = ""
	changed = m.Update(at(20), []finding.Finding{over, own})
	require.Equal(t, []alarm.Event{alarm.Raised}, events(changed))
	assert.Equal(t, "s", changed[0].ID)
}

func TestWhatFollowsFromNothingThatAsksStandsByItself(t *testing.T) {
	loop := leak("a", 0)
	loop.Under = "s"
	for name, behind := range map[string][]finding.Finding{"nobody knows it": nil, "a journal line": {journalLine(leak("a", 0))}, "a circle": {loop}} {
		m := alarm.NewManager(nil, alarm.Options{})
		require.NotEmpty(t, m.Update(at(0), append(behind, short())), name)
	}
}

// However findings come, go, change rank and hang under each other, each that asks has its one alarm, or is told by the alarm of
// the one that it hangs under, which is as urgent.
func TestNothingThatFollowsIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := &world{now: monday, moves: []string{"begin", "end", "rank"}}
		m := alarm.NewManager(nil, alarm.Options{})
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			w.move(t)
			hung := append([]finding.Finding{}, w.findings...)
			for i := range hung {
				hung[i].Text = hung[i].ID
				if k := rapid.IntRange(-2, len(hung)-1).Draw(t, "under"); k >= 0 && k != i {
					hung[i].Under = hung[k].ID
				}
			}
			m.Update(w.now, hung)
			if rapid.Bool().Draw(t, "restart") {
				m = alarm.NewManager(throughJSON(t, m.List()), alarm.Options{})
			}
			standing := oneEach(t, m.List())
			byID := map[string]finding.Finding{}
			for _, f := range hung {
				byID[f.ID] = f
			}
			for _, f := range hung {
				behind, known := byID[f.Under]
				hangs := known && behind.Priority != finding.Journal && behind.Under == ""
				if !f.Active() || f.Priority == finding.Journal || hangs && !behind.Active() {
					continue
				}
				if !hangs {
					behind = f
				}
				a := standing[alarm.Cause(&behind)]
				require.True(t, a.Active(), "%q has no alarm", f.ID)
				require.GreaterOrEqual(t, rankOf[a.Priority], rankOf[f.Priority])
				if hangs {
					require.Contains(t, a.Follows, f.Text)
				}
			}
		}
	})
}

var rankOf = map[finding.Priority]int{finding.Instrument: 1, finding.Plan: 2, finding.ActToday: 3}

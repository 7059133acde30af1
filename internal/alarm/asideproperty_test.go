package alarm_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/alarm"
	"ductward/internal/finding"
)

// told follows what a person hears: an alarm that is active, unseen and held by nothing has been told once since it last
// asked, whatever was shelved, suppressed, taken out of service, restarted or acknowledged meanwhile.
type told struct {
	heard map[string]bool // by alarm: told since it last rose or was acknowledged
	seen  map[string]int  // changes: what has the same number has new words only
}

func (h *told) hear(t *rapid.T, list []alarm.Alarm) {
	for _, a := range list {
		if a.Changes == h.seen[a.ID] {
			continue
		}
		h.seen[a.ID] = a.Changes
		switch {
		case a.Event == alarm.Raised && !a.Held():
			require.False(t, h.heard[a.ID], "alarm %q was told twice", a.ID)
			h.heard[a.ID] = true
		case (a.Event == alarm.Urged || a.Event == alarm.Reminded) && !a.Held():
			h.heard[a.ID] = true
		case a.Event == alarm.Raised || a.Event == alarm.Urged: // in vain
			h.heard[a.ID] = false
		case a.Event == alarm.Cleared || a.Event == alarm.Acknowledged:
			h.heard[a.ID] = false
		}
	}
}

func TestWhatIsHeldIsNeitherLostNorTwice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := &world{now: monday, moves: []string{"begin", "end", "rank"}}
		m := alarm.NewManager(nil, patient)
		h := &told{heard: map[string]bool{}, seen: map[string]int{}}
		hear := func(a alarm.Alarm, err error) {
			if err == nil {
				h.hear(t, []alarm.Alarm{a})
			}
		}
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			w.move(t)
			var design alarm.Design
			if rapid.Bool().Draw(t, "off") {
				design = func(string, finding.Kind) string { return "the fan is off" }
			}
			h.hear(t, m.UpdateBy(w.now, w.findings, design))
			if rapid.Bool().Draw(t, "restart") {
				m = alarm.NewManager(throughJSON(t, m.List()), patient)
			}
			asks := w.asks()
			for cause, a := range oneEach(t, m.List()) {
				require.Equal(t, asks[cause], a.Active(), "alarm of %q is %s", cause, a.State)
				delete(asks, cause)
				if a.State == alarm.ActiveUnacknowledged && !a.Held() {
					require.True(t, h.heard[a.ID], "alarm %q asks, and nobody was told", a.ID)
				}
			}
			require.Empty(t, asks, "without an alarm")
			list := m.List()
			if len(list) == 0 {
				continue
			}
			id := rapid.SampledFrom(list).Draw(t, "alarm").ID
			switch rapid.SampledFrom([]string{"", "see", "shelve", "once", "unshelve", "out", "back"}).Draw(t, "person") {
			case "see":
				hear(m.Acknowledge(id, "Ines", w.now))
			case "shelve":
				hear(m.Shelve(id, "Ines", "known", w.now, w.now.Add(10*time.Minute), false))
			case "once":
				hear(m.Shelve(id, "Ines", "known", w.now, w.now.Add(10*time.Minute), true))
			case "unshelve":
				hear(m.Unshelve(id, "Ines", w.now))
			case "out":
				hear(m.TakeOut(id, "Ines", "away", w.now))
			case "back":
				hear(m.PutBack(id, "Ines", w.now))
			}
		}
	})
}

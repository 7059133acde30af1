package alarm_test

import (
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/fixedseed"
)

// seed draws the same sequences in every run; -rapid.seed on the command line draws others.
const seed = "20260302"

func TestMain(m *testing.M) {
	fixedseed.Set(seed)
	os.Exit(m.Run()) // m.Run parses the command line, after the settings above
}

// world is a small set of causes whose findings come and go.
type world struct {
	now      time.Time
	findings []finding.Finding
	next     int
	moves    []string
}

var priorities = []finding.Priority{finding.ActToday, finding.Plan, finding.Instrument, finding.Journal}

// move lets time pass and begins, ends or re-ranks a finding of one cause.
func (w *world) move(t *rapid.T) {
	w.now = w.now.Add(time.Duration(rapid.IntRange(0, 300).Draw(t, "seconds")) * time.Second)
	subject := rapid.SampledFrom([]string{"trunk 1", "saw", "planer"}).Draw(t, "subject")
	switch rapid.SampledFrom(w.moves).Draw(t, "what") {
	case "begin":
		w.next++
		w.findings = append(w.findings, finding.Finding{ID: fmt.Sprintf("f%d", w.next), Collector: "main",
			Kind: finding.NewLeak, Subject: subject, Raised: w.now,
			Priority: rapid.SampledFrom(priorities).Draw(t, "priority"), Text: "t"})
	case "end":
		for i := range w.findings {
			if w.findings[i].Subject == subject && w.findings[i].Active() {
				w.findings[i].Ended = w.now
			}
		}
	case "rank":
		for i := range w.findings {
			if w.findings[i].Subject == subject && w.findings[i].Active() {
				w.findings[i].Priority = rapid.SampledFrom(priorities[:3]).Draw(t, "new priority")
			}
		}
	case "place": // one of them turns out to be elsewhere
		for i := range w.findings {
			if w.findings[i].Subject == subject && w.findings[i].Active() {
				w.findings[i].Subject = rapid.SampledFrom([]string{"trunk 1", "saw", "planer"}).Draw(t, "new subject")
				break
			}
		}
	}
}

// asks returns the causes that ask for an alarm now.
func (w *world) asks() map[string]bool {
	asks := map[string]bool{}
	for _, f := range w.findings {
		if f.Active() && f.Priority != finding.Journal {
			asks[alarm.Cause(&f)] = true
		}
	}
	return asks
}

// oneEach fails if two alarms have one ID, or two standing ones have one cause; it returns the standing ones by cause.
func oneEach(t *rapid.T, list []alarm.Alarm) map[string]alarm.Alarm {
	ids, standing := map[string]bool{}, map[string]alarm.Alarm{}
	for _, a := range list {
		require.False(t, ids[a.ID], "two alarms %q", a.ID)
		ids[a.ID] = true
		if a.Standing() {
			_, twice := standing[a.Cause]
			require.False(t, twice, "two standing alarms of %q", a.Cause)
			standing[a.Cause] = a
		}
	}
	return standing
}

// Without delays an alarm is active exactly while its cause holds, and what nobody has seen never goes away.
func TestNoSequenceLosesOrDoublesAnAlarm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := &world{now: monday, moves: []string{"begin", "end", "rank"}}
		m := alarm.NewManager(nil, alarm.Options{})
		unseen := map[string]bool{} // causes raised and not acknowledged since
		was := map[string]bool{}
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			w.move(t)
			m.Update(w.now, w.findings)
			if rapid.Bool().Draw(t, "restart") {
				m = alarm.NewManager(throughJSON(t, m.List()), alarm.Options{})
			}
			asks := w.asks()
			for cause := range asks {
				if !was[cause] {
					unseen[cause] = true
				}
			}
			was = asks
			standing := oneEach(t, m.List())
			for cause, a := range standing {
				require.Equal(t, asks[cause], a.Active(), "alarm of %q is %s", cause, a.State)
			}
			for cause := range asks {
				require.Contains(t, standing, cause, "lost")
			}
			for cause := range unseen {
				require.Contains(t, standing, cause, "went away unseen")
				require.Empty(t, standing[cause].AckedBy, "acknowledged by nobody")
			}
			for cause, a := range standing {
				if rapid.Bool().Draw(t, "acknowledge "+cause) && a.AckedBy == "" {
					_, err := m.Acknowledge(a.ID, "Ines Holm", w.now)
					require.NoError(t, err)
					delete(unseen, cause)
				}
			}
		}
	})
}

// The same holds where findings turn out to be elsewhere: each cause that asks has its one active alarm, no other alarm is
// active, and no alarm goes away before somebody has seen it.
func TestFindingsThatMoveNeitherLoseNorDoubleAnAlarm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := &world{now: monday, moves: []string{"begin", "end", "rank", "place"}}
		m := alarm.NewManager(nil, alarm.Options{})
		unseen := map[string]bool{} // by ID
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			w.move(t)
			m.Update(w.now, w.findings)
			if rapid.Bool().Draw(t, "restart") {
				m = alarm.NewManager(throughJSON(t, m.List()), alarm.Options{})
			}
			asks, ids := w.asks(), map[string]bool{}
			for cause, a := range oneEach(t, m.List()) {
				require.Equal(t, asks[cause], a.Active(), "alarm of %q is %s", cause, a.State)
				delete(asks, cause)
				ids[a.ID] = true
				if a.AckedBy == "" {
					unseen[a.ID] = true
				}
			}
			require.Empty(t, asks, "without an alarm")
			for id := range unseen {
				require.True(t, ids[id], "alarm %q went away unseen", id)
			}
			if list := m.Standing(); len(list) > 0 && list[0].AckedBy == "" && rapid.Bool().Draw(t, "acknowledge") {
				_, err := m.Acknowledge(list[0].ID, "Ines Holm", w.now)
				require.NoError(t, err)
				delete(unseen, list[0].ID)
			}
		}
	})
}

// With delays a manager that is restarted at every step tells the same as one that never is, as long as each finding
// says when it ended.
func TestRestartsChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := &world{now: monday, moves: []string{"begin", "end", "rank"}}
		steady, restarted := alarm.NewManager(nil, delays), alarm.NewManager(nil, delays)
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			w.move(t)
			want := steady.Update(w.now, w.findings)
			got := restarted.Update(w.now, w.findings)
			require.Equal(t, want, got)
			if list := steady.Standing(); len(list) > 0 && rapid.Bool().Draw(t, "acknowledge") {
				_, err1 := steady.Acknowledge(list[0].ID, "Ines Holm", w.now)
				_, err2 := restarted.Acknowledge(list[0].ID, "Ines Holm", w.now)
				require.Equal(t, err1, err2)
			}
			oneEach(t, steady.List())
			require.Equal(t, steady.List(), restarted.List())
			restarted = alarm.NewManager(throughJSON(t, restarted.List()), delays)
		}
	})
}

package estimate_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/trial"
	"ductward/internal/watch"
)

// forgetful lives through days on one of which every switch says shut whenever a machine is open alone, and returns what
// the watch found, and the gates that were open so.
func forgetful(t *testing.T, set string, seed uint64, days, from int, faults ...plant.Fault) (fs []finding.Finding, gates []string) {
	t.Helper()
	s, err := trial.Shop(set, true)
	require.NoError(t, err)
	r := trial.NewRecord(s, seed)
	r.Work.AllDays, r.Work.Walk, r.Work.Faults = true, true, faults
	w, err := watch.New(s)
	require.NoError(t, err)
	open, hidden := map[string]bool{}, ""
	tell := func(rd reading.Reading, g string, v float64) {
		rd.Channel, rd.Value = "gate/"+g, v
		w.Reading(rd)
	}
	err = r.Run(days, func(rd reading.Reading) {
		name, ok := strings.CutPrefix(rd.Channel, "gate/")
		if ok && hidden != "" {
			tell(rd, hidden, 1)
			hidden = ""
		}
		w.Reading(rd)
		if !ok {
			return
		}
		open[name] = rd.Value == 1
		var names []string
		for _, g := range s.Collectors[0].Gates {
			if open[g.Name] {
				names = append(names, g.Name)
			}
		}
		if len(names) == 1 && int(rd.Mono/(24*time.Hour)) == from {
			hidden = names[0]
			gates = append(gates, hidden)
			tell(rd, hidden, 0)
		}
	}, nil)
	require.NoError(t, err)
	w.Flush()
	c := w.Snapshot().Collectors[0]
	return c.Findings, gates
}

// TestAGateLeftOpenIsToldAsSuch, and passes for no leak: by its name where a far tap tells it, else as one of several.
func TestAGateLeftOpenIsToldAsSuch(t *testing.T) {
	t.Parallel()
	for _, set := range []string{"A", "C"} {
		const seed = 21
		fs, gates := forgetful(t, set, seed, 10, 8)
		l := lived{watched: watch.Collector{Findings: fs}}
		sane(t, &l)
		assert.Empty(t, l.leaks(), "set %s: %s", set, say(l.leaks()))
		left := l.of(finding.GateLeftOpen)
		require.NotEmpty(t, left, "set %s: %s", set, say(fs))
		assert.False(t, left[len(left)-1].Active(), "it ends with the next run that is as told")
		t.Logf("set %s: open were %v; told%s", set, gates, say(left))
		for _, f := range left {
			assert.Greater(t, f.Size, 300.0/3600, "m³/s")
			assert.True(t, slices.ContainsFunc(f.Where, func(p finding.Place) bool { return slices.Contains(gates, p.Part[len("seat:"):]) }), "%+v", f.Where)
		}
	}
}

// TestAGateLeftOpenBesideOthers: a switch that says shut while its gate is opened and shut with the others is told on its day
// by a far tap, whatever else is told open, and nothing else is.
func TestAGateLeftOpenBesideOthers(t *testing.T) {
	t.Parallel()
	const gate, from = "panel saw gate", 8
	h := newSilent(99) // nobody falls silent; it keeps where the gates stood
	l := live(t, scene{seed: 25, days: from + 1, shop: func() (*shop.Shop, error) { return trial.Shop("C", true) },
		work: func(o *plant.WorkOptions) { o.AllDays, o.Walk = true, true },
		heard: func(r *reading.Reading) bool {
			h.heard(r)
			if r.Channel == "gate/"+gate && r.Mono >= from*24*time.Hour {
				r.Value = 0
			}
			return true
		}})
	left := l.of(finding.GateLeftOpen)
	t.Log(say(l.alarms()))
	require.NotEmpty(t, left, say(l.watched.Findings))
	assert.Len(t, l.alarms(), len(left), say(l.alarms()))
	beside := false
	for _, f := range left {
		assert.Equal(t, gate, f.Subject, say(left))
		held := h.held(f.Onset.Sub(trial.Start), f.Onset.Sub(trial.Start)+time.Second)
		assert.Contains(t, held[0], gate, "it stood open then")
		beside = beside || strings.Contains(held[0], "+")
	}
	assert.True(t, beside, "told beside a gate that is told open: %s", say(left))
}

// TestALargeLeakIsNoGate: what opens with 150 m³/h is told as a leak, and no gate is blamed.
func TestALargeLeakIsNoGate(t *testing.T) {
	t.Parallel()
	fs, _ := forgetful(t, "A", 23, 11, 99, plant.Fault{Day: 8, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: "run:trunk 3", Size: 150.0 / 3600})
	l := lived{watched: watch.Collector{Findings: fs}}
	assert.NotEmpty(t, l.leaks(), say(fs))
	assert.Empty(t, l.of(finding.GateLeftOpen), say(fs))
}

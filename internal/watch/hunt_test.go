package watch_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/watch"
)

// hunter moves the gates of a plant as the watch asks for it, and reads its sensors.
type hunter struct {
	t    *testing.T
	w    *watch.Watch
	p    *plant.Plant
	c    *shop.Collector
	now  time.Duration // since start
	seq  uint64
	took []any // the runs and entries in the order in which the watch took them
}

func (h *hunter) give(channel string, v, sd float64, span time.Duration) {
	h.seq++
	rd := reading.Reading{Channel: channel, Value: v, SD: sd, Span: span, N: int(span / time.Second), Time: start.Add(h.now), Boot: 1, Mono: h.now, Seq: h.seq}
	for _, r := range h.w.Reading(rd) {
		h.took = append(h.took, r)
	}
}

func (h *hunter) entry(k journal.Kind) {
	e := journal.Entry{Time: start.Add(h.now), Kind: k, Subject: h.c.Name, By: "Ada"}
	h.w.Entry(e)
	h.took = append(h.took, e)
}

// live lets the plant run.
func (h *hunter) live(d time.Duration) {
	const span = 10 * time.Second
	for until := h.now + d; h.now < until; {
		h.now += span
		for _, ch := range h.p.Channels() {
			mean, sd := h.p.Window(ch, span.Seconds(), 1)
			h.give(ch, mean, sd, span)
		}
	}
}

// set moves the gates, and the hose: first what opens, then what shuts.
func (h *hunter) set(open []string, ports map[string]int) {
	for _, l := range h.c.Selectors {
		if n, ok := ports[l.Name]; ok {
			require.NoError(h.t, h.p.SetPort(l.Name, n))
			h.give("selector/"+l.Name, float64(n), 0, 0)
		}
	}
	for _, opens := range []bool{true, false} {
		for _, g := range h.c.Gates {
			if slices.Contains(open, g.Name) == opens && h.p.GateOpen(g.Name) != opens {
				require.NoError(h.t, h.p.SetGate(g.Name, opens))
				h.give("gate/"+g.Name, map[bool]float64{true: 1}[opens], 0, 0)
				h.live(10 * time.Second)
			}
		}
	}
}

// seen is what the watch knows.
func (h *hunter) seen() watch.Collector { return h.w.Snapshot().Collectors[0] }

// TestAHuntOnAPlant follows the watch's advice, test after test, in a shop whose leak began three days ago: each test is
// judged as it ends, the true place is never ruled out, and what is told of the place in the end is what a rebuild from the
// stored runs and the logbook tells, bit for bit.
func TestAHuntOnAPlant(t *testing.T) {
	s := load(t, demoPath)
	h := &hunter{t: t, w: newWatch(t, s), p: demoPlant(t), c: s.Collectors[0], now: demoDays*24*time.Hour + 8*time.Hour, seq: 1 << 40}
	for _, r := range whole().runs {
		h.w.Run(r)
	}
	h.p.NewDay()
	h.give("main/fan", 1, 0, 0)
	h.p.SetFan(true)
	for _, g := range h.c.Gates {
		h.give("gate/"+g.Name, map[bool]float64{true: 1}[h.p.GateOpen(g.Name)], 0, 0)
	}
	for _, l := range h.c.Selectors {
		h.give("selector/"+l.Name, float64(h.p.Port(l.Name)), 0, 0)
	}
	for _, g := range []string{"bench saw gate", "planer gate", "sander gate"} { // a morning's work
		h.set([]string{g}, nil)
		h.live(4 * time.Minute)
	}
	before := h.seen()
	require.NotNil(t, before.NextTest, "where it is is not known")
	assert.False(t, before.Hunting)
	assert.False(t, before.Checks[0].Kind != estimate.ClosedCheck, "the demo's ducts bear it")

	h.entry(journal.LeakHunt)
	tests := 0
	for ; tests < 2; tests++ {
		c := h.seen()
		n := c.NextTest
		if n == nil || len(n.Tests) == 0 {
			break
		}
		require.True(t, c.Hunting)
		p := n.Tests[0]
		t.Logf("%.2f bits to tell; open %q for %v: should tell %.2f. %s", n.Entropy, p.Open, p.Duration, p.Gain, p.Reason)
		h.set(p.Open, p.Ports)
		ran := len(h.took)
		asked := p.Duration // the first gate that moved has ended a run, which may have called for another length
		if n := h.seen().NextTest; n != nil && len(n.Tests) > 0 {
			asked = max(asked, n.Tests[0].Duration)
		}
		h.live(asked + 90*time.Second) // without a switch at the fan the last minute is held back
		require.Greater(t, len(h.took), ran, "cut when it was long enough, though no gate has moved")
		last := h.took[len(h.took)-1].(steady.Run)
		assert.Equal(t, append([]string(nil), p.Open...), append([]string(nil), last.Open...))
		assert.NotSame(t, n, h.seen().NextTest, "judged as it ended")
	}
	assert.Positive(t, tests)
	after := h.seen()
	for _, f := range after.Findings {
		if f.ID != before.NextTest.Finding {
			continue
		}
		t.Logf("%d tests; where: %v", tests, f.Where)
		true4 := 0.0
		for _, w := range f.Where {
			if w.Part == "run:trunk 4" || slices.Contains(w.Members, "run:trunk 4") {
				true4 = w.Probability
			}
		}
		assert.Greater(t, true4, 0.02, "the true place is among the named ones: %v", f.Where)
	}
	h.entry(journal.LeakHuntEnded)
	assert.False(t, h.seen().Hunting)

	again := newWatch(t, s)
	for _, r := range whole().runs {
		again.Run(r)
	}
	for _, x := range h.took {
		switch x := x.(type) {
		case steady.Run:
			again.Run(x)
		case journal.Entry:
			again.Entry(x)
		}
	}
	c := only(t, again.Snapshot())
	assert.Equal(t, flat(h.seen().NextTest), flat(c.NextTest))
	assert.Equal(t, flat(h.seen().Findings), flat(c.Findings))
	assert.Equal(t, flat(h.seen().Checks), flat(c.Checks))
}

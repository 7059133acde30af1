//go:build !race

package estimate_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/detect"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// ductsLeftOut leaves of a shop its machines and gates, and the sensors at the collector.
func ductsLeftOut(s *shop.Shop) {
	c := s.Collectors[0]
	for _, sensor := range c.Sensors {
		if sensor.Run != "" {
			sensor.Diameter, sensor.Run, sensor.TapAt = c.Run(sensor.Run).Diameter, "inlet", 0
		}
	}
	c.Network = nil
}

// TestDuctsThatAreNotDrawn are assumed, one drop for each gate: a healthy shop is told nothing of, its leakage is followed, and what
// changes with one gate is told as of that gate.
func TestDuctsThatAreNotDrawn(t *testing.T) {
	t.Parallel()
	fitted := func(set string) func() (*shop.Shop, error) {
		return func() (*shop.Shop, error) { return trial.Shop(set, true) }
	}
	blocked := []plant.Fault{{Day: leakFrom, Kind: plant.BlockEvent, Name: "shaper", Size: 1.5}}
	ls := many(t, []scene{
		{seed: 651, days: 30, work: everyDay, told: ductsLeftOut, shop: fitted("A")},
		{seed: 652, days: 30, work: everyDay, told: ductsLeftOut, shop: fitted("B")},
		{seed: 653, days: 20, work: everyDay, told: ductsLeftOut, shop: fitted("A"), faults: leakAt("seat:jointer gate", 60, nil)},
		{seed: 654, days: 20, work: everyDay, told: ductsLeftOut, shop: fitted("B"), faults: leakAt("run:trunk 3", 60, nil)},
		{seed: 655, days: 20, work: everyDay, told: ductsLeftOut, shop: fitted("A"), faults: blocked},
	})
	days, inside := 0, 0
	for _, l := range ls[:2] {
		assert.Empty(t, l.alarms(), "seed %d: %s", l.seed, say(l.alarms()))
		for _, e := range l.watched.Days[6:] {
			days++
			if miss := e.Leakage.V - l.on(e.Date).leak; miss*miss <= detect.Quantile(0.9)*detect.Quantile(0.9)*e.Leakage.SE*e.Leakage.SE {
				inside++
			}
		}
	}
	t.Logf("%d of %d days inside", inside, days)
	assert.Greater(t, inside, days*4/5)

	found := ls[2].leaks()
	require.Len(t, found, 1, say(ls[2].watched.Findings))
	assert.Equal(t, finding.GateLeaks, found[0].Kind)
	assert.Equal(t, "jointer gate", found[0].Subject)

	found = ls[3].leaks()
	require.Len(t, found, 1, say(ls[3].watched.Findings))
	assert.InDelta(t, leakFrom, daysUntil(found[0].Raised), 1)
	assert.InDelta(t, 60, 3600*found[0].Size, 12)

	told := ls[4].of(finding.DropBlocked)
	require.Len(t, told, 1, say(ls[4].watched.Findings))
	assert.Equal(t, "shaper", told[0].Subject)
	assert.Empty(t, ls[4].leaks())
	for _, l := range ls {
		assert.Empty(t, l.of(finding.DustMaySettle), "of ducts that nobody has drawn no velocity is known")
	}
}

// TestWhatIsAssumedOfTheDucts: only where every gate is told and the two pressures tell the air; and what is then not known is said.
func TestWhatIsAssumedOfTheDucts(t *testing.T) {
	lacks := func(less func(*shop.Collector)) string {
		s, err := trial.Shop("A", true)
		require.NoError(t, err)
		ductsLeftOut(s)
		less(s.Collectors[0])
		e, err := estimate.New(s, s.Collectors[0])
		require.NoError(t, err)
		return strings.Join(e.Lacks(), "\n")
	}
	assert.Contains(t, lacks(func(*shop.Collector) {}), "the ducts are assumed")
	assert.NotContains(t, lacks(func(*shop.Collector) {}), "write the diameter")
	assert.Contains(t, lacks(func(c *shop.Collector) { c.Sensors[1].Diameter = 0 }), "write the diameter")
	for name, less := range map[string]func(*shop.Collector){
		"a gate that nothing tells": func(c *shop.Collector) { c.Gates[2].Position = nil },
		"no gates":                  func(c *shop.Collector) { c.Gates = nil },
		"no fan curve":              func(c *shop.Collector) { c.Fan.Points = nil },
		"one pressure":              func(c *shop.Collector) { c.Sensors = c.Sensors[:1] },
	} {
		assert.NotContains(t, lacks(less), "ducts are assumed", name)
	}
}

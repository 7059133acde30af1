package watch_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// TestAWatchOfLessGoesOnFromACheckpoint, too: of a shop whose ducts are not drawn, with its gates and without them, before its baseline
// and after it.
func TestAWatchOfLessGoesOnFromACheckpoint(t *testing.T) {
	less := func(gates bool) *shop.Shop {
		s := load(t, demoPath)
		c := s.Collectors[0]
		for _, x := range c.Sensors {
			if r := c.Run(x.Run); r != nil {
				x.Diameter, x.Run = r.Diameter, "inlet"
			}
		}
		c.Network, c.Selectors = nil, nil
		if !gates {
			c.Gates, c.Machines = nil, nil
		}
		s.Collectors = s.Collectors[:1]
		return s
	}
	rs := record(t)
	for _, gates := range []bool{true, false} {
		live, cut := newWatch(t, less(gates)), newWatch(t, less(gates))
		for i, r := range rs {
			if i == len(rs)/3 || i == len(rs)*4/5 {
				cut = resumed(t, less(gates), checkpointOf(t, cut))
			}
			for _, run := range live.Reading(r) {
				cut.Run(run)
			}
		}
		for _, run := range live.Flush() {
			cut.Run(run)
		}
		cut.Flush()
		require.True(t, only(t, live.Snapshot()).Baseline.Complete, "gates %v", gates)
		assert.Equal(t, checkpointOf(t, live), checkpointOf(t, cut), "gates %v", gates)
		a, b := only(t, live.Snapshot()), only(t, cut.Snapshot())
		assert.Equal(t, flat(a.Findings), flat(b.Findings), "gates %v", gates)
		assert.Equal(t, flat(a.Days), flat(b.Days), "gates %v", gates)
	}
}

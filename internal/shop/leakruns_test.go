package shop

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A saw's drop with its gate, a stub behind it that it alone breathes through, and a trunk that a lathe breathes through too.
func TestRunsThatLeakApart(t *testing.T) {
	wye, collector := End{EndJunction, "wye"}, End{EndCollector, "main"}
	c := &Collector{Name: "main", Machines: []*Machine{{Name: "saw"}, {Name: "lathe"}}, Network: &Network{
		Runs: []*Run{
			{Name: "saw hose", From: End{EndMachine, "saw"}, To: End{EndRun, "saw drop"}},
			{Name: "saw drop", To: End{EndRun, "stub"}, Gate: "saw gate"},
			{Name: "stub", To: wye},
			{Name: "lathe drop", From: End{EndMachine, "lathe"}, To: wye, Gate: "lathe gate"},
			{Name: "trunk", From: wye, To: collector},
		},
		Junctions: []*Junction{{Name: "wye", Kind: Wye, Straight: "stub", Branch: "lathe drop"}},
	}}
	assert.Equal(t, map[string]int{"saw hose": 1, "saw drop": 1, "stub": 1, "lathe drop": 1, "trunk": 2}, c.Served())
	apart := func() (out []string) {
		for _, r := range c.Network.Runs {
			if c.LeaksApart(r.Name) {
				out = append(out, r.Name)
			}
		}
		return out
	}
	assert.Equal(t, []string{"trunk"}, apart(), "nothing is read between the saw's drop and its stub")
	for _, s := range []*Sensor{
		{Measures: StaticPressure, Run: "saw drop", TapAt: AtEnd}, {Measures: VelocityPressure, Run: "stub", TapAt: AtStart},
	} {
		c.Sensors = []*Sensor{s}
		assert.Equal(t, []string{"stub", "trunk"}, apart(), s.Run)
	}
	for _, s := range []*Sensor{
		{Measures: StaticPressure, Run: "saw drop", TapAt: AtStart}, {Measures: StaticPressure, Run: "stub", TapAt: AtEnd},
		{Measures: AirTemperature, Run: "saw drop", TapAt: AtEnd},
	} {
		c.Sensors = []*Sensor{s}
		assert.Equal(t, []string{"trunk"}, apart(), s.Run)
	}
	assert.False(t, c.LeaksApart("window"))
}

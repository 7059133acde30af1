package daemon

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/estimate"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

func TestTopicsAreClean(t *testing.T) {
	cases := []struct{ name, in, want string }{
		{"spaces and case", "Main Collector/Filter Drop", "main-collector/filter-drop"},
		{"wildcards", "saw+#1", "saw-1"},
		{"letters of other languages", "Säge groß/Höhe", "saege-gross/hoehe"},
		{"control and zero", "a\x00b\nc", "a-b-c"},
		{"nothing left", "###", "-"},
		{"leading slash has no level of its own name", "/x", "-/x"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, topic(c.in)) })
	}
	assert.Equal(t, "a-b", level("a/b"), "an identity is one level, whatever it holds")
}

// The forms are those of RFC 8428: records in section 4, units in section 12.1, a missing time is about now (4.5.3).
func TestSenML(t *testing.T) {
	at := time.Date(2026, 3, 16, 7, 0, 0, 250e6, time.UTC)
	v := -812.5
	assert.JSONEq(t, `[{"n":"main/trunk","t":1773644400.25,"u":"Pa","v":-812.5}]`,
		string(packJSON(senml{Name: "main/trunk", Time: seconds(at), Unit: "Pa", Value: &v})))
	assert.JSONEq(t, `[{"n":"gate/saw","t":1773644400.25,"vb":true}]`, string(packJSON(senmlSwitch("gate/saw", 1, at))))
	assert.JSONEq(t, `[{"n":"main/fan","vb":false}]`, string(packJSON(senmlSwitch("main/fan", 0, time.Time{}))))
	assert.JSONEq(t, `[{"n":"gate/saw","vs":"unknown"}]`, string(packJSON(senmlSwitch("gate/saw", math.NaN(), time.Time{}))))
	assert.JSONEq(t, `[{"n":"main/trunk/quality","vs":"uncertain"},{"n":"main/trunk/seq","v":7}]`,
		string(packJSON(senmlQuality("main/trunk", reading.Uncertain), senmlNumber("main/trunk/seq", 7))))
	assert.JSONEq(t, `[{"n":"selector/hose","v":2}]`, string(packJSON(senmlSwitch("selector/hose", 2, time.Time{}))))
}

func TestSenMLEstimateLeavesOutWhatIsNotKnown(t *testing.T) {
	unknown := estimate.Value{V: math.NaN(), SE: math.NaN()}
	now := estimate.Now{At: monday, Flow: estimate.Value{V: 0.61, SE: 0.02}, Filter: estimate.Value{V: 1.25, SE: math.NaN()},
		Leakage: unknown, Machines: []estimate.MachineAir{{Machine: "Band Saw", Open: true, Flow: estimate.Value{V: 0.2, SE: 0.01}},
			{Machine: "lathe", Flow: unknown}}}
	assert.JSONEq(t, `[{"bn":"main/estimate/","bt":1773644400,"n":"flow","u":"m3/s","v":0.61},
		{"n":"flow-se","u":"m3/s","v":0.02},{"n":"filter-resistance-ratio","u":"/","v":1.25},
		{"n":"machine/band-saw/flow","u":"m3/s","v":0.2},{"n":"machine/band-saw/flow-se","u":"m3/s","v":0.01}]`,
		string(packJSON(senmlEstimate("main/estimate", &now)...)))
	assert.Nil(t, senmlEstimate("main/estimate", &estimate.Now{Flow: unknown, Filter: unknown, Leakage: unknown}))
}

func TestSenMLUnits(t *testing.T) {
	for q, want := range map[shop.Quantity]string{shop.FilterDrop: "Pa", shop.StaticPressure: "Pa",
		shop.VelocityPressure: "Pa", shop.SeparatorDrop: "Pa", shop.BarometricPressure: "Pa", shop.AirTemperature: "K",
		shop.RelativeHumidity: "%RH", shop.FanPower: "W", shop.FanSpeed: "Hz"} {
		unit, _ := senmlUnit(q)
		assert.Equal(t, want, unit)
	}
	_, factor := senmlUnit(shop.RelativeHumidity)
	assert.InDelta(t, 100, factor, 0)
}

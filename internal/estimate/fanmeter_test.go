//go:build !race

package estimate_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/trial"
)

// metered returns the trials' shop with sensor set A and meters of the fan; the air's density is measured or assumed.
func metered(air bool, meters ...shop.Quantity) func() (*shop.Shop, error) {
	return func() (*shop.Shop, error) {
		s, err := trial.Shop("A", air)
		if err != nil {
			return nil, err
		}
		for _, q := range meters {
			name := map[shop.Quantity]string{shop.FanPower: "power", shop.FanSpeed: "turns"}[q]
			s.Collectors[0].Sensors = append(s.Collectors[0].Sensors, &shop.Sensor{Name: name, Measures: q})
		}
		return s, nil
	}
}

// metersFrom is the day on which something happens to the fan or its meters.
const metersFrom = 8

// fanFault is one thing that goes wrong on that day.
func fanFault(k plant.EventKind, name string, size float64) []plant.Fault {
	return []plant.Fault{{Day: metersFrom, At: 5 * time.Hour, Kind: k, Name: name, Size: size}}
}

// misread multiplies what a channel reads from that day on.
func misread(channel string, factor float64) func(*reading.Reading) bool {
	return func(r *reading.Reading) bool {
		if r.Channel == channel && r.Mono >= metersFrom*24*time.Hour {
			r.Value *= factor
		}
		return true
	}
}

// TestTheFansMetersTellWhatPressuresCannot: with the air's density assumed, a slow fan, a restriction behind the last tap, a
// wheel that turns backwards and a drive that slips behind the counted shaft all leave less of every pressure. Each is told on
// its day as what it is, nothing else with it, and no leak is taken for any of them; nor is a leak, or a meter, for the fan.
func TestTheFansMetersTellWhatPressuresCannot(t *testing.T) {
	t.Parallel()
	both := metered(false, shop.FanPower, shop.FanSpeed)
	cases := []struct {
		name    string
		shop    func() (*shop.Shop, error)
		faults  []plant.Fault
		heard   func(*reading.Reading) bool
		kind    finding.Kind // "": none
		part    string       // most probable place; "": not asked
		size    float64      // NaN: not asked
		subject string
	}{
		{"slow fan", both, fanFault(plant.SpeedEvent, "", 0.97), nil, finding.FanSlow, "fan", 0.97, ""},
		{"restriction", both, fanFault(plant.RestrictEvent, "", 800), nil, finding.RestrictionAfterTap, "behind-tap", math.NaN(), ""},
		{"leak", both, fanFault(plant.LeakEvent, "run:trunk 3", 80.0/3600), nil, finding.NewLeak, "", 80.0 / 3600, "trunk"},
		{"drive slips behind the counted shaft", metered(true, shop.FanSpeed), fanFault(plant.SpeedEvent, "", 0.97),
			misread("main/turns", 1/0.97), finding.RestrictionAfterTap, "fan-wheel", 0.94, ""},
		{"restriction, by power alone", metered(false, shop.FanPower), fanFault(plant.RestrictEvent, "", 800), nil,
			finding.RestrictionAfterTap, "behind-tap", math.NaN(), ""},
		{"slow fan, by its turns alone", metered(false, shop.FanSpeed), fanFault(plant.SpeedEvent, "", 0.97), nil, finding.FanSlow, "fan", 0.97, ""},
		{"slow fan that nobody reads: the air may be thin", metered(false), fanFault(plant.SpeedEvent, "", 0.97), nil, "", "", 0, ""},
		{"clamp moved", both, nil, misread("main/power", 0.85), finding.SensorDisagrees, "sensor:main/power", 0.85, "main/power"},
		{"no turns", both, nil, misread("main/turns", 0), finding.SensorDisagrees, "", 0, "main/turns"},
	}
	var scenes []scene
	for i, c := range cases {
		scenes = append(scenes, scene{seed: 801 + uint64(i), days: metersFrom + 2, work: everyDay, shop: c.shop, faults: c.faults, heard: c.heard})
	}
	for i, l := range many(t, scenes) {
		c := cases[i]
		what := c.name + say(l.alarms())
		t.Log(what)
		if c.kind == "" {
			assert.Empty(t, l.alarms(), what)
			continue
		}
		if !assert.Len(t, l.alarms(), 1, what) {
			continue
		}
		f := l.alarms()[0]
		assert.Equal(t, c.kind, f.Kind, what)
		assert.Equal(t, c.subject, f.Subject, what)
		assert.Equal(t, metersFrom, daysUntil(f.Raised), what)
		assert.True(t, f.Active(), what)
		if c.part != "" {
			assert.Equal(t, c.part, f.Where[0].Part, "%s %v", what, f.Where)
			assert.Greater(t, f.Where[0].Probability, 0.8, what)
		}
		if !math.IsNaN(c.size) {
			assert.InDelta(t, c.size, f.Size, max(3*(f.SizeHigh-f.SizeLow)/3.3, 0.02*c.size), "%s", what)
		}
	}
}

// TestAFanThatTurnsBackwards is told on its day and is over when it is put right, with and without meters of the fan. The
// quieter air plugs no tap.
func TestAFanThatTurnsBackwards(t *testing.T) {
	t.Parallel()
	fault := fanFault(plant.ReverseEvent, "", 1)
	fault[0].Until = metersFrom + 1
	var scenes []scene
	for i, sh := range []func() (*shop.Shop, error){metered(false, shop.FanPower, shop.FanSpeed), metered(false)} {
		scenes = append(scenes, scene{seed: 802 + uint64(i), days: metersFrom + 3, work: everyDay, shop: sh, faults: fault})
	}
	for i, l := range many(t, scenes) {
		t.Log(say(l.alarms()))
		require.Len(t, l.alarms(), 1, say(l.alarms()))
		f := l.alarms()[0]
		assert.Equal(t, []finding.Kind{finding.RestrictionAfterTap, finding.FanSlow}[i], f.Kind)
		assert.Equal(t, finding.ActToday, f.Priority)
		assert.Contains(t, f.Action, "turns backwards")
		assert.Equal(t, metersFrom, daysUntil(f.Raised))
		assert.Equal(t, metersFrom+1, daysUntil(f.Ended))
		last := l.watched.Days[len(l.watched.Days)-1]
		assert.InEpsilon(t, l.truth[metersFrom+2].ratio/l.baselineTruth(), last.FilterRatio.V, 0.06, "the filter is followed again")
	}
}

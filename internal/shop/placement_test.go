package shop

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// placed is a shop with one sensor in a drawing of two drops on a trunk.
func placed(t *testing.T, sensor string) *Collector {
	t.Helper()
	text := `shop: Elm Lane
collectors:
  - collector: main
    fan: {position: after filter, curve: [{flow: 0 m3/h, pressure: 2.5 kPa}, {flow: 4000 m3/h, pressure: 1 kPa}]}
    filter: {clean: {drop: 350 Pa, flow: 2500 m3/h}, limit: 1.2 kPa}
    machines: [{machine: saw, needs: 850 m3/h}, {machine: planer, needs: 900 m3/h}]
    ducts:
      runs:
        - {run: saw hood, from: saw, to: saw drop, diameter: 125 mm, length: 0.3 m}
        - {run: saw drop, to: wye, diameter: 125 mm, length: 2 m}
        - {run: planer drop, from: planer, to: wye, diameter: 150 mm, length: 0.4 m, fittings: [{entry: plain}]}
        - {run: first, from: wye, to: second, diameter: 200 mm, length: 0.4 m}
        - {run: second, to: third, diameter: 200 mm, length: 0.4 m}
        - {run: third, to: last, diameter: 200 mm, length: 1 m, fittings: [{elbow: 90 deg, make: smooth, radius: 1.5}]}
        - {run: last, to: collector, diameter: 200 mm, length: 0.3 m}
      junctions: [{junction: wye, kind: wye, angle: 45 deg, straight: planer drop, branch: saw drop}]
    sensors:
      - {sensor: tap, ` + sensor + `, from: {i2c: 1, chip: abp2, address: 0x28, span: 4 kPa}}
`
	s, problems := Parse("shop.yaml", []byte(text))
	require.NoError(t, Errors(problems))
	return s.Collectors[0]
}

func TestTapAdvice(t *testing.T) {
	rows := []struct {
		sensor string
		want   string // straight, wanted, behind; "" for no advice
	}{
		{"measures: static pressure, at: second", ""}, // 0.8 m, four diameters
		{"measures: static pressure, at: first", "0.40 0.60 the junction wye"},
		{"measures: static pressure, at: first, tap: start", "0.00 0.60 the junction wye"},
		{"measures: static pressure, at: second, tap: start", "0.40 0.60 the junction wye"},
		{"measures: velocity pressure, at: second", "0.80 1.50 the junction wye"},
		{"measures: static pressure, at: third", ""}, // at most 1 m behind its own elbow
		{"measures: velocity pressure, at: third", "1.00 1.50 the elbow of run third"},
		{"measures: static pressure, at: inlet", ""}, // at most 1.3 m behind it
		{"measures: static pressure, at: last, tap: start", ""},
		{"measures: velocity pressure, at: inlet", "1.30 1.50 the elbow of run third"},
		{"measures: static pressure, at: saw hood", "0.30 0.38 the hood of saw"},
		{"measures: static pressure, at: saw drop", ""},
		{"measures: static pressure, at: planer drop", "0.40 0.45 the entry of run planer drop"},
		{"measures: static pressure, at: fan", ""},
		{"measures: filter drop", ""},
	}
	for _, r := range rows {
		t.Run(r.sensor, func(t *testing.T) {
			got := ""
			for _, a := range placed(t, r.sensor).TapAdvice() {
				got += fmt.Sprintf("%.2f %.2f %s", a.Straight, a.Wanted, a.Behind)
				require.Contains(t, a.Text(), `sensor "tap"`)
				require.Contains(t, a.Text(), "move it")
			}
			require.Equal(t, r.want, got)
		})
	}
}

// TestTapAdviceInARing ends, although every run leads into the next.
func TestTapAdviceInARing(t *testing.T) {
	for _, c := range load(t, goodShops+"/ring-main.yaml").Collectors {
		for _, a := range c.TapAdvice() {
			require.Less(t, a.Straight, a.Wanted)
		}
	}
	ring := &Collector{Network: &Network{Runs: []*Run{
		{Name: "a", To: End{EndRun, "b"}, Diameter: 1, Length: 0.1}, {Name: "b", To: End{EndRun, "a"}, Diameter: 1, Length: 0.1}}},
		Sensors: []*Sensor{{Name: "x", Measures: StaticPressure, Run: "a"}}}
	require.Len(t, ring.TapAdvice(), 1)
	require.Empty(t, (&Collector{}).TapAdvice())
}

package shop

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const (
	goodShops = "../../testdata/shops"
	demoShop  = "../../hardware/rig/shop.yaml"
)

// load reads a shop of testdata that has no problems at all.
func load(t *testing.T, path string) *Shop {
	t.Helper()
	s, problems, err := Load(path)
	require.NoError(t, err)
	require.Empty(t, problems, messages(problems))
	return s
}

func TestGoodShopsHaveNoProblems(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(goodShops, "*.yaml"))
	require.NoError(t, err)
	require.Len(t, files, 7)
	for _, f := range append(files, demoShop) {
		s := load(t, f)
		require.NotEmpty(t, s.Raw)
		require.Equal(t, f, s.Path)
	}
}

func TestLoadTellsAMissingFile(t *testing.T) {
	_, _, err := Load(filepath.Join(t.TempDir(), "none.yaml"))
	require.ErrorContains(t, err, "none.yaml")
}

func TestSmallestShop(t *testing.T) {
	s := load(t, goodShops+"/smallest.yaml")
	require.Equal(t, "Corner Joinery", s.Name)
	require.Equal(t, time.UTC, s.Site.Location)
	require.InDelta(t, 293.15, s.Site.Temperature, 1e-9)
	c := s.Collectors[0]
	require.Nil(t, c.Network)
	require.Nil(t, c.FanSwitch)
	require.True(t, math.IsNaN(c.Rating) && math.IsNaN(c.Filter.Limit) && math.IsNaN(c.Filter.CleanDrop))
	require.Equal(t, 20.0, c.Transport)
	require.Equal(t, AlarmSettings{ReferenceSuction: 1500, FalseAlarmsPerYear: 1, FilterNotice: 240 * time.Hour}, c.Alarms)
	require.Equal(t, Source{Kind: SourceI2C, Chip: "abp2", Bus: "1", Address: 0x28, Span: 2500, Line: 8}, c.Sensors[0].From)
	require.Equal(t, "inlet", c.Sensors[1].Run)
	require.Equal(t, time.Second, c.Sensors[1].Interval)
	require.Nil(t, s.Outbound.MQTT)
}

// TestAmericanUnits checks numbers of two-collectors.yaml that were converted by hand with NIST SP 811 factors.
func TestAmericanUnits(t *testing.T) {
	s := load(t, goodShops+"/two-collectors.yaml")
	require.Len(t, s.Collectors, 2)
	require.InDelta(t, 259.08, s.Site.Altitude, 1e-9)    // 850 ft
	require.InDelta(t, 293.15, s.Site.Temperature, 1e-9) // 68 °F
	c := s.Collector("mill")
	require.Equal(t, FanBeforeFilter, c.Fan.Position)
	require.InDelta(t, 1.20138, c.Fan.Density, 1e-5) // 0.075 lb/ft³
	require.InDelta(t, 57.5, c.Fan.Speed, 1e-9)
	require.InDelta(t, 3088.70, c.Fan.Coefficients[0], 0.01) // 12.4 inH2O
	require.InDelta(t, 0, c.Fan.Coefficients[1], 0)
	// At 1000 cfm the curve gives 12.4 - 4 = 8.4 inH2O = 2092.35 Pa; 1000 cfm are 0.4719474 m³/s.
	q := 0.4719474
	require.InDelta(t, 2092.35, c.Fan.Coefficients[0]+c.Fan.Coefficients[2]*q*q, 0.02)
	require.InDelta(t, 20.32, c.Transport, 1e-9)                              // 4000 ft/min
	require.InDelta(t, 0.1524, c.Run("saw line").Diameter, 1e-12)             // 6 in
	require.InDelta(t, 1.5, c.Run("saw line").Fittings[1].RadiusRatio, 1e-12) // 9 in over 6 in
	require.InDelta(t, 0.7, c.Run("jointer line").Fittings[1].FreeArea, 1e-12)
	require.Equal(t, MitredElbow, c.Run("planer line").Fittings[1].Make)
	static := c.Sensor("inlet static")
	require.True(t, static.From.OneSided && static.From.Swapped)
	require.InDelta(t, 3736.33, static.From.Span, 0.01) // 15 inH2O
	require.Equal(t, "kilowatts", c.Sensor("motor").From.Field)
	require.Equal(t, "mill/motor", c.ChannelOf("motor"))
	require.Equal(t, &MQTT{Broker: "ssl://broker.shop.example:8883", Prefix: "dust", ClientID: "watch", Username: "watch",
		PasswordFile: "/etc/ductward/broker", CAFile: "/etc/ductward/ca.pem", Line: 83}, s.Outbound.MQTT)
	require.Equal(t, s.Collector("sander").Sensor("velocity").Diameter, 0.16)
}

func TestDemoShop(t *testing.T) {
	s := load(t, demoShop)
	c := s.Collectors[0]
	require.Len(t, c.Machines, 9)
	require.Len(t, c.Gates, 8)
	require.Equal(t, "Europe/London", s.Site.Location.String())
	require.False(t, c.Fan.Humped)
	require.Equal(t, Smooth, c.Fan.Between)
	require.Greater(t, c.Rating, c.Fan.Points[0].Pressure, "the closed check may be asked for")
	require.Equal(t, "drop-out box", c.Separator.Name)
	r := c.Run("thicknesser drop")
	require.Equal(t, End{}, r.From)
	require.Equal(t, End{EndRun, "trunk 1"}, r.To)
	require.Equal(t, "thicknesser gate", r.Gate)
	require.Len(t, c.Run("trunk 10").Fittings, 2, "an elbow given two times")
	require.Equal(t, End{Kind: EndCollector}, c.Run("trunk 10").To)
	hose := c.Run("moulder hose line")
	require.True(t, hose.Flexible)
	require.Equal(t, 1.3, hose.Stretch)
	require.Equal(t, End{EndSelector, "moulder hose"}, hose.From)
	wye := c.Junction("moulder wye")
	require.Equal(t, Wye, wye.Kind)
	require.InDelta(t, math.Pi/4, wye.Angle, 1e-12)
	require.Equal(t, &Source{Kind: SourceGPIO, Pin: "GPIO5", ActiveLow: true, Debounce: 50 * time.Millisecond, Line: c.Gates[0].Position.Line}, c.Gates[0].Position)
	require.Equal(t, SourceMQTT, c.Selectors[0].Position.Kind)
	require.InDelta(t, 3.0/3600, c.Gates[0].SeatLeak, 1e-15)
}

// TestNetworksAreThoseSolved compares the shops made of two solved networks with the numbers of those networks.
func TestNetworksAreThoseSolved(t *testing.T) {
	sum := func(r *Run) (k float64) {
		for _, f := range r.Fittings {
			require.Equal(t, FixedLoss, f.Kind)
			k += f.Coefficient
		}
		return k
	}
	rows := []struct {
		file, run              string
		mm, length, roughMM, k float64
	}{
		{"single-run", "hose", 120, 2.5, 1, 0.49},
		{"single-run", "duct", 140, 11, 0.09, 0.65},
		{"trunk-three-drops", "saw_hose", 120, 1.5, 1, 0.93},
		{"trunk-three-drops", "saw_drop", 120, 4.5, 0.09, 0.77}, // the gate's 0.05 are the gate's
		{"trunk-three-drops", "band_drop", 100, 3, 0.09, 0.52},
		{"trunk-three-drops", "planer_drop", 140, 3.2, 0.09, 0.52},
		{"trunk-three-drops", "trunk1", 200, 6, 0.09, 0},
		{"trunk-three-drops", "trunk2", 200, 9, 0.09, 0.48},
	}
	for _, row := range rows {
		r := load(t, filepath.Join(goodShops, row.file+".yaml")).Collectors[0].Run(row.run)
		require.NotNil(t, r, row.run)
		require.InDelta(t, row.mm/1000, r.Diameter, 1e-12, row.run)
		require.InDelta(t, row.length, r.Length, 1e-12, row.run)
		require.InDelta(t, row.roughMM/1000, r.Roughness, 1e-12, row.run)
		require.InDelta(t, row.k, sum(r), 1e-12, row.run)
		require.Zero(t, r.Tightness.C)
	}
}

package quantity

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestFormatSpreadTellsWhatTheSpreadSupports(t *testing.T) {
	rows := []struct {
		kind  Kind
		v, sd float64
		unit  string
		want  string
	}{
		{Flow, 1243.0 / 3600, 31.0 / 3600, "m3/h", "1 240 ± 30 m3/h"},
		{Flow, 1243.0 / 3600, 14.0 / 3600, "m3/h", "1 243 ± 14 m3/h"},
		{Flow, 1243.0 / 3600, 2.4 / 3600, "m3/h", "1 243.0 ± 2.4 m3/h"},
		{Flow, 1243.0 / 3600, 96.0 / 3600, "m3/h", "1 240 ± 100 m3/h"},
		{Flow, 4.0 / 3600, 310.0 / 3600, "m3/h", "0 ± 300 m3/h"},
		{Flow, -4.0 / 3600, 310.0 / 3600, "m3/h", "0 ± 300 m3/h"},
		{Pressure, -1234.56, 0.5, "Pa", "-1 234.6 ± 0.5 Pa"},
		{Pressure, 123456, 1200, "kPa", "123.5 ± 1.2 kPa"},
		{Temperature, 293.15, 0.3, "degC", "20.0 ± 0.3 degC"},
		{Flow, 1243.0 / 3600, math.NaN(), "m3/h", "about 1 240 m3/h"},
		{Flow, 1243.0 / 3600, 0, "m3/h", "1 240 m3/h"},
		{Flow, math.NaN(), 1, "m3/h", "not known"},
		{Flow, math.Inf(1), 1, "m3/h", "not known"},
	}
	for _, row := range rows {
		want := strings.Replace(row.want, "1 2", "1\u00a02", 1)
		require.Equal(t, want, FormatSpread(row.kind, row.v, row.sd, row.unit))
	}
}

func TestFormatGivesThreeDigits(t *testing.T) {
	require.Equal(t, "0.0523 m3/s", Format(Flow, 0.05234, "m3/s"))
	require.Equal(t, "1\u00a0250 Pa", Format(Pressure, 1249.6, "Pa"))
	require.Equal(t, "1\u00a0000 Pa", Format(Pressure, 999.6, "Pa"))
	require.Equal(t, "0 Pa", Format(Pressure, 0, "Pa"))
	require.Equal(t, "12\u00a0300\u00a0000 Pa", Format(Pressure, 12345678, "Pa"))
	require.Contains(t, Format(Pressure, 1, "m"), "not a pressure")
	require.Equal(t, "1.24 ± 0.03", Digits(1.2361, 0.031))
	require.Equal(t, "1.24", Digits(1.2361, math.NaN()))
}

// TestPrintedSpreadIsNear: what is printed is within a half of its last digit, the spread within a fifth of itself, and
// the printed value can be read back.
func TestPrintedSpreadIsNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		sd := math.Pow(10, rapid.Float64Range(-4, 5).Draw(t, "log sd"))
		text := FormatSpread(Pressure, v, sd, "Pa")
		value, rest, ok := strings.Cut(text, " ± ")
		if !ok {
			t.Fatalf("%q has no spread", text)
		}
		printed, err := Parse(Pressure, value+" Pa")
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		spread, err := strconv.ParseFloat(strings.ReplaceAll(strings.TrimSuffix(rest, " Pa"), "\u00a0", ""), 64)
		if err != nil || math.Abs(spread-sd) > 0.2*sd {
			t.Fatalf("%q: spread %g for %g (%v)", text, spread, sd, err)
		}
		if math.Abs(printed-v) > 0.5*sd+1e-9 {
			t.Fatalf("%q: printed %g for %g, spread %g", text, printed, v, sd)
		}
	})
}

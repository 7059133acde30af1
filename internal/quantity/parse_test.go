package quantity

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestParseAcceptsWhatPeopleWrite(t *testing.T) {
	rows := []struct {
		kind    Kind
		written string
		want    float64
	}{
		{Length, "160 mm", 0.16},
		{Length, "160mm", 0.16},
		{Length, " 6 in ", 0.1524},
		{Length, `6"`, 0.1524},
		{Length, ".5 m", 0.5},
		{Length, "5. m", 5},
		{Length, "+5 m", 5},
		{Length, "90 µm", 90e-6},
		{Length, "9e-5 m", 9e-5},
		{Flow, "1 240 m³/h", 1240.0 / 3600},
		{Flow, "1\u00a0240 m3/h", 1240.0 / 3600},
		{Flow, "1 000 000 l/s", 1000},
		{Pressure, "-250 Pa", -250},
		{Pressure, "−250 Pa", -250},
		{Pressure, "1.2 kPa", 1200},
		{Pressure, "4 in. w.g.", 996.35564},
		{Temperature, "-5 °C", 268.15},
		{Angle, "45°", math.Pi / 4},
		{Humidity, "50 %", 0.5},
		{Humidity, "50 %RH", 0.5},
		{Frequency, "2900 1/min", 2900.0 / 60},
		{Seepage, "2 l/s/m²", 0.002},
		{Resistance, "150 Ω", 150},
		{Resistance, "1.2 kohm", 1200},
	}
	for _, row := range rows {
		got, err := Parse(row.kind, row.written)
		require.NoError(t, err, "%q", row.written)
		require.InDelta(t, row.want, got, 1e-12*math.Max(1, math.Abs(row.want)), "%q", row.written)
	}
}

func TestParseSaysWhatToWriteInstead(t *testing.T) {
	rows := []struct {
		kind    Kind
		written string
		want    string
	}{
		{Length, "160", `160 has no unit; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Flow, "160 mm", `160 mm is a length, not a flow; write one of m3/h, m3/s, m3/min, l/s, cfm, such as "850 m3/h"`},
		{Length, "160 MM", `160 MM has no known unit; did you mean "160 mm"?`},
		{Pressure, "4 foo", `4 foo has the unknown unit "foo"; write one of Pa, kPa, hPa, mbar, bar, mmH2O, inH2O, mmHg, inHg, psi, such as "4 Pa"`},
		{Length, "1,5 m", `"1,5 m" has a comma in its number; write a point for decimals and nothing between thousands, such as "160 mm"`},
		{Length, "", `"" is not a length; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Length, "NaN mm", `"NaN mm" is not a length; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Length, "Inf m", `"Inf m" is not a length; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Length, "0x10 m", `"0x10 m" is not a decimal number; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Length, "1e300 m", `1e300 m is beyond anything that can be built; write a length such as "160 mm"`},
		{Length, "1_000 mm", `"1_000 mm" does not hold one number and one unit; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Length, "2 m 30 cm", `2 m 30 cm has the unknown unit "m 30 cm"; write one of mm, cm, m, in, ft, um, such as "2 mm"`},
		{Length, "1.2.3 m", `"1.2.3 m" does not hold one number and one unit; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Length, "12 1 mm", `"12 1 mm" does not hold one number and one unit; write one of mm, cm, m, in, ft, um, such as "160 mm"`},
		{Kind(99), "1 m", "kind 99 of quantity is not known"},
	}
	for _, row := range rows {
		_, err := Parse(row.kind, row.written)
		require.Error(t, err, "%q", row.written)
		require.Equal(t, row.want, err.Error())
		var e *Error
		require.ErrorAs(t, err, &e)
	}
}

func TestUnitsOfAnotherKindAreRefused(t *testing.T) {
	_, err := ParseUnit(Flow, "Pa")
	require.EqualError(t, err, `Pa is a pressure, not a flow; write one of m3/h, m3/s, m3/min, l/s, cfm, such as "850 m3/h"`)
	_, err = FromSI(Pressure, "", 1)
	require.ErrorContains(t, err, "is not a unit of a pressure")
}

func TestLongTextIsCutInMessages(t *testing.T) {
	_, err := Parse(Length, strings.Repeat("9", 5000))
	require.Error(t, err)
	require.Less(t, len(err.Error()), 300)
}

// FuzzParse: no text makes the parser panic or yield a number that is not finite and bounded.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"160 mm", "1 240 m3/h", "0x1p4 m", "1e309 Pa", "-", "°", "1/min", "\x80 mm", "1e", "5 "} {
		f.Add(int(Length), s)
		f.Add(int(Frequency), s)
	}
	f.Fuzz(func(t *testing.T, kind int, s string) {
		v, err := Parse(Kind(kind), s)
		if err == nil && !(math.Abs(v) <= largest) {
			t.Fatalf("%q gave %g", s, v)
		}
		if err != nil && len(err.Error()) > 1000 {
			t.Fatalf("%q gave a message of %d bytes", s, len(err.Error()))
		}
	})
}

package reading

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// pascals knows two units of pressure, by their definitions: 1 kPa = 1000 Pa; 1 inH2O at 4 °C = 249.08891 Pa
// (NIST SP 811, table B.8, "inch of water (39.2 °F)" to seven digits).
func pascals(channel, unit string, v float64) (float64, error) {
	switch unit {
	case "Pa", "K":
		return v, nil
	case "inH2O":
		return v * 249.08891, nil
	case "degC":
		return v + 273.15, nil
	}
	return 0, fmt.Errorf("channel %q: unit %q is not known: write Pa or inH2O", channel, unit)
}

func each(rs []Reading) iter.Seq2[Reading, error] {
	return func(yield func(Reading, error) bool) {
		for _, r := range rs {
			if !yield(r, nil) {
				return
			}
		}
	}
}

func TestReadCSV(t *testing.T) {
	const file = "\ufefftime,channel,value,unit,span_s,sd,remark\r\n" +
		"2026-03-01T08:00:00+01:00,north/filter,4.2,inH2O,60,0.5,\r\n" +
		"2026-03-01T07:00:01.5Z,gate/saw,1,,,,opened\r\n" +
		"2026-03-01T08:00:02+01:00,\"gate/saw, big\",,,,,\"not \"\"known\"\"\"\r\n" +
		"2026-03-01T06:59:59Z,north/air,20,degC,0,0.5,\r\n"
	var got []Reading
	for r, err := range ReadCSV(strings.NewReader(file), "walk.csv", pascals) {
		require.NoError(t, err)
		got = append(got, r)
	}
	require.Len(t, got, 4)
	assert.InDelta(t, 1046.173422, got[0].Value, 1e-9, "4.2 inH2O in Pa")
	assert.InDelta(t, 124.544455, got[0].SD, 1e-9, "0.5 inH2O in Pa")
	assert.Equal(t, time.Minute, got[0].Span)
	assert.Equal(t, "2026-03-01T07:00:00Z", got[0].Time.UTC().Format(time.RFC3339Nano))
	assert.Equal(t, 1500*time.Millisecond, got[1].Mono)
	assert.Equal(t, uint64(2), got[1].Seq)
	assert.Equal(t, 1.0, got[1].Value)
	assert.True(t, math.IsNaN(got[1].SD))
	assert.Equal(t, "gate/saw, big", got[2].Channel)
	assert.True(t, math.IsNaN(got[2].Value), "an empty value of a switch is not known")
	assert.InDelta(t, 0.5, got[3].SD, 1e-12, "a deviation of 0.5 °C is 0.5 K")
	assert.Equal(t, -time.Second, got[3].Mono)
}

func TestMistakesSayWhereAndWhatToWrite(t *testing.T) {
	head := "time,channel,value,unit,span_s,sd,n,quality,boot,mono_s,seq\n"
	for _, tc := range []struct{ name, file, want string }{
		{"empty", "", `r.csv:1: the file is empty: write the header "time,channel,value,unit,span_s" and a row for each reading`},
		{"semicolons", "time;channel;value;unit\n", `r.csv:1: the columns are separated by semicolons: separate them by commas, and write 1.5 for one and a half`},
		{"missing column", "time,channel,value\n", `r.csv:1: the header has no column "unit": write "time,channel,value,unit,span_s,sd,n,quality,boot,mono_s,seq"`},
		{"column twice", "time,channel,value,unit,time\n", `r.csv:1: column "time" is there twice: leave one out`},
		{"comma in number", head + "2026-03-01T08:00:00Z,north/filter,1,5,Pa,,,,,,,\n", `r.csv:2: the row has 12 fields and the header 11: write a decimal point, not a comma, and quote a name with a comma in it`},
		{"no offset", head + "2026-03-01 08:00:00,north/filter,1,Pa,,,,,,,\n", `r.csv:2: time "2026-03-01 08:00:00" does not say its offset: write "2026-03-01T08:00:00+01:00", or Z for UTC`},
		{"bad time", head + "1.3.2026,north/filter,1,Pa,,,,,,,\n", `r.csv:2: time "1.3.2026" cannot be read: write it as in 2026-03-01T08:00:00+01:00`},
		{"no time", head + ",north/filter,1,Pa,,,,,,,\n", `r.csv:2: there is no time: write one such as 2026-03-01T08:00:00+01:00, or boot and mono_s`},
		{"no channel", head + "2026-03-01T08:00:00Z,,1,Pa,,,,,,,\n", `r.csv:2: there is no channel: write its name in the shop file, such as "north/filter drop" or "gate/saw"`},
		{"no value", head + "2026-03-01T08:00:00Z,north/filter,,Pa,,,,,,,\n", `r.csv:2: channel "north/filter" has no value: leave the row out; only a switch can be not known`},
		{"not a number", head + "2026-03-01T08:00:00Z,north/filter,NaN,Pa,,,,,,,\n", `r.csv:2: value "NaN" is not a number: write one such as 812.5`},
		{"unit", head + "2026-03-01T08:00:00Z,north/filter,1,bananas,,,,,,,\n", `r.csv:2: channel "north/filter": unit "bananas" is not known: write Pa or inH2O`},
		{"gate", head + "2026-03-01T08:00:00Z,gate/saw,0.5,,,,,,,,\n", `r.csv:2: channel "gate/saw": 0.5 is no position: write 1 (open, on), 0 (shut, off), or nothing for not known`},
		{"selector", head + "2026-03-01T08:00:00Z,selector/hose,-1,,,,,,,,\n", `r.csv:2: channel "selector/hose": -1 is no port: write its number, 0 for none, or nothing for not known`},
		{"span", head + "2026-03-01T08:00:00Z,north/filter,1,Pa,-5,,,,,,\n", `r.csv:2: span_s "-5" is not a number of seconds of 0 or more: write one such as 60 or 0.5`},
		{"sd", head + "2026-03-01T08:00:00Z,north/filter,1,Pa,,-1,,,,,\n", `r.csv:2: sd "-1" is not a standard deviation: write a number of 0 or more, or nothing`},
		{"n", head + "2026-03-01T08:00:00Z,north/filter,1,Pa,,,x,,,,\n", `r.csv:2: n "x" is not a number of samples: write a whole number, or nothing`},
		{"quality", head + "2026-03-01T08:00:00Z,north/filter,1,Pa,,,,fine,,,\n", `r.csv:2: quality "fine" is not known: write one of good, uncertain, simulated, late`},
		{"boot alone", head + "2026-03-01T08:00:00Z,north/filter,1,Pa,,,,,3,,\n", `r.csv:2: boot 3 has no mono_s beside it: write the seconds since the boot, or no boot`},
		{"seq", head + "2026-03-01T08:00:00Z,north/filter,1,Pa,,,,,,,-1\n", `r.csv:2: seq "-1" is not a whole number: write one, or nothing`},
		{"quote", head + "2026-03-01T08:00:00Z,\"north,1,Pa,,,,,,,\n", `r.csv:2: extraneous or missing " in quoted-field`},
		{"long line", head + strings.Repeat("x", longestLine+1), `r.csv: a line is longer than 65536 bytes: is this a CSV file of readings?`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			_, _, err := ReadAll(strings.NewReader(tc.file), "r.csv", pascals)
			assert.EqualError(t, err, tc.want)
		})
	}
}

func TestReadingGoesOnAfterABadRow(t *testing.T) {
	file := "time,channel,value,unit\n2026-03-01T08:00:00Z,a/b,x,Pa\n2026-03-01T08:00:01Z,a/b,7,Pa\n"
	var mistakes []error
	var values []float64
	for r, err := range ReadCSV(strings.NewReader(file), "r.csv", pascals) {
		var row *RowError
		if errors.As(err, &row) {
			assert.Equal(t, 2, row.Line)
			mistakes = append(mistakes, err)
			continue
		}
		require.NoError(t, err)
		values = append(values, r.Value)
	}
	assert.Len(t, mistakes, 1)
	assert.Equal(t, []float64{7}, values)
}

// What WriteCSV writes, ReadCSV gives back, all fields.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rs := rapid.SliceOfN(rapid.Custom(drawReading), 0, 20).Draw(t, "readings")
		var b bytes.Buffer
		require.NoError(t, WriteCSV(&b, each(rs), func(string) string { return "Pa" }))
		i := 0
		for got, err := range ReadCSV(&b, "r.csv", pascals) {
			require.NoError(t, err)
			want := rs[i]
			require.True(t, want.Time.Equal(got.Time), "want %v, got %v", want.Time, got.Time)
			require.Equal(t, math.Float64bits(want.Value), math.Float64bits(got.Value))
			require.True(t, same(want.SD, got.SD), "want %v, got %v", want.SD, got.SD)
			// Compared above, since NaN is not equal to itself nor one zone to another.
			want.Time, want.Value, want.SD = got.Time, 0, 0
			got.Value, got.SD = 0, 0
			require.Equal(t, want, got)
			i++
		}
		require.Equal(t, len(rs), i)
	})
}

func drawReading(t *rapid.T) Reading {
	mono := time.Duration(rapid.Int64Range(0, 1<<60).Draw(t, "mono"))
	r := Reading{
		Channel: rapid.SampledFrom([]string{"north/filter", "gate/saw", `a "b", c/d`, " north/é"}).Draw(t, "channel"),
		Value:   rapid.Float64Range(-1e300, 1e300).Draw(t, "value"),
		Span:    time.Duration(rapid.Int64Range(0, 1<<50).Draw(t, "span")),
		SD:      rapid.SampledFrom([]float64{0, 1.5, 1e-300, math.NaN()}).Draw(t, "sd"),
		N:       rapid.IntRange(0, 1<<30).Draw(t, "n"),
		Quality: Quality(rapid.IntRange(0, int(Late)).Draw(t, "quality")),
		Boot:    rapid.Uint32Range(1, math.MaxUint32).Draw(t, "boot"),
		Mono:    mono,
		Seq:     rapid.Uint64().Draw(t, "seq"),
	}
	if r.Channel == " north/é" {
		r.Channel = "north/é"
	}
	if IsSwitch(r.Channel) {
		r.Value = rapid.SampledFrom([]float64{0, 1, math.NaN()}).Draw(t, "position")
		r.SD = math.NaN()
	}
	if rapid.Bool().Draw(t, "placed") {
		r.Time = time.Unix(1.77e9, 0).Add(mono / 1e3)
	}
	return r
}

func TestReadAllSortsAndDropsDoubles(t *testing.T) {
	const file = `time,channel,value,unit
2026-03-01T08:00:02Z,a/b,3,Pa
2026-03-01T08:00:00Z,a/b,1,Pa
2026-03-01T08:00:00Z,gate/x,1,
2026-03-01T08:00:00Z,gate/x,0,
2026-03-01T08:00:00Z,a/b,1,Pa
2026-03-01T08:00:01Z,a/b,2,Pa
`
	rs, doubles, err := ReadAll(strings.NewReader(file), "r.csv", pascals)
	require.NoError(t, err)
	assert.Equal(t, 1, doubles)
	var got []string
	for _, r := range rs {
		got = append(got, fmt.Sprintf("%v %s %g", r.Mono, r.Channel, r.Value))
	}
	assert.Equal(t, []string{"0s a/b 1", "0s gate/x 1", "0s gate/x 0", "1s a/b 2", "2s a/b 3"}, got)
}

func TestWriteCSVGolden(t *testing.T) {
	var b bytes.Buffer
	rs := []Reading{{Channel: "north/filter", Value: 812.5, Time: time.Date(2026, 3, 1, 8, 0, 0, 0, time.FixedZone("", 3600)),
		Span: 1500 * time.Millisecond, SD: 2.25, N: 15, Quality: Simulated, Boot: 4, Mono: time.Hour + 1, Seq: 77},
		{Channel: "gate/saw", Value: math.NaN(), SD: math.NaN(), Boot: 4, Mono: 2 * time.Hour, Seq: 78}}
	require.NoError(t, WriteCSV(&b, each(rs), func(c string) string {
		if IsSwitch(c) {
			return ""
		}
		return "Pa"
	}))
	assert.Equal(t, "time,channel,value,unit,span_s,sd,n,quality,boot,mono_s,seq\r\n"+
		"2026-03-01T07:00:00Z,north/filter,812.5,Pa,1.5,2.25,15,simulated,4,3600.000000001,77\r\n"+
		",gate/saw,,,0,,,good,4,7200,78\r\n", b.String())
}

func FuzzReadCSV(f *testing.F) {
	f.Add([]byte("time,channel,value,unit,span_s\n2026-03-01T08:00:00Z,a/b,1,Pa,60\n"))
	f.Add([]byte("time,channel,value,unit,boot,mono_s\n,gate/a,,,1,0.000000001\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		for r, err := range ReadCSV(bytes.NewReader(b), "f.csv", pascals) {
			if err == nil && (r.Channel == "" || r.Boot != 0 && r.Mono < 0 || r.Span < 0) {
				t.Fatalf("took a row that makes no sense: %+v", r)
			}
		}
	})
}

func BenchmarkReadCSV(b *testing.B) {
	row := []byte("2026-03-01T07:00:00Z,north/filter,812.5,Pa,1,2.25,15,good,4,3600.1,77\n")
	head := []byte(strings.Join(columnNames[:], ",") + "\n")
	b.SetBytes(int64(len(row)))
	r := io.MultiReader(bytes.NewReader(head), bytes.NewReader(bytes.Repeat(row, b.N)))
	b.ResetTimer()
	n := 0
	for _, err := range ReadCSV(r, "b.csv", pascals) {
		require.NoError(b, err)
		n++
	}
	require.Equal(b, b.N, n)
}

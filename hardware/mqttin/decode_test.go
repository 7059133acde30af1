package mqttin

import (
	"encoding/json"
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"ductward/internal/quantity"
	"ductward/internal/reading"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var (
	pressure    = Want{Kind: quantity.Pressure, Low: -50e3, High: 50e3}
	temperature = Want{Kind: quantity.Temperature, Low: 223.15, High: 373.15}
	humidity    = Want{Kind: quantity.Humidity, Low: 0, High: 1}
	aSwitch     = Want{Switch: true}
	aSelector   = Want{Ports: []string{"router", "sander"}}
)

// noon is the board's civil time in these tests: 1 700 000 000 s after 1970.
var noon = time.Unix(1_700_000_000, 0).UTC()

var now = Stamp{Mono: time.Hour, Time: noon}

func decoder(t testing.TB, in Input) *Decoder {
	if in.Topic == "" {
		in.Topic = "t"
	}
	if in.Channel == "" {
		in.Channel = "main/x"
	}
	if in.Stale == 0 {
		in.Stale = 30 * time.Second
	}
	d, err := NewDecoder([]Input{in})
	require.NoError(t, err)
	return d
}

func TestValues(t *testing.T) {
	for _, c := range []struct {
		name    string
		in      Input
		payload string
		want    float64
	}{
		{"plain", Input{Want: pressure, Unit: "Pa"}, "-1234.5", -1234.5},
		{"plain with space around", Input{Want: pressure, Unit: "Pa"}, " 12\r\n", 12},
		{"plain with exponent", Input{Want: pressure, Unit: "Pa"}, "1.5e2", 150},
		{"plain in kPa", Input{Want: pressure, Unit: "kPa"}, "-1.5", -1500},
		{"plain in inH2O", Input{Want: pressure, Unit: "inH2O"}, "4", 996.35564}, // NIST SP 811 (2008) App. B.8: 249.08891 Pa
		{"plain in degF", Input{Want: temperature, Unit: "degF"}, "68", 293.15},
		{"plain in quotes", Input{Want: aSwitch}, `"open"`, 1},
		{"field", Input{Want: temperature, Unit: "degC", Field: "temp"}, `{"hum": 40, "temp": 20.5}`, 293.65},
		{"field as text", Input{Want: temperature, Unit: "degC", Field: "temp"}, `{"temp": "20.5"}`, 293.65},
		{"field within an object", Input{Want: temperature, Unit: "degC", Field: "room.temp"}, `{"room": {"temp": 20}}`, 293.15},
		{"field whose name has a dot", Input{Want: temperature, Unit: "degC", Field: "room.temp"}, `{"room.temp": 21, "room": {"temp": 20}}`, 294.15},
		{"boolean field", Input{Want: aSwitch, Field: "contact"}, `{"contact": false}`, 0},
		{"senml", Input{Want: pressure}, `[{"n":"dp","u":"Pa","v":250}]`, 250},
		{"senml Cel", Input{Want: temperature}, `[{"n":"t","u":"Cel","v":20}]`, 293.15},
		{"senml %RH", Input{Want: humidity}, `[{"n":"h","u":"%RH","v":45}]`, 0.45},
		{"senml ratio", Input{Want: humidity}, `[{"n":"h","u":"/","v":0.45}]`, 0.45},
		{"senml's own unit goes before unit:", Input{Want: pressure, Unit: "Pa"}, `[{"n":"dp","u":"kPa","v":1}]`, 1000},
		{"senml without a unit", Input{Want: pressure, Unit: "hPa"}, `[{"n":"dp","v":1}]`, 100},
		{"senml base fields", Input{Want: pressure, Field: "shop/dp"}, `[{"bn":"shop/","bu":"Pa","bv":100,"n":"t","u":"Cel","v":20},{"n":"dp","v":-30}]`, 70},
		{"senml latest of one name", Input{Want: pressure}, `[{"n":"dp","u":"Pa","v":1,"t":-2},{"n":"dp","u":"Pa","v":2,"t":-1},{"n":"dp","u":"Pa","v":3,"t":-3}]`, 2},
		{"senml boolean", Input{Want: aSwitch}, `[{"n":"gate","vb":true}]`, 1},
		{"senml word", Input{Want: aSwitch}, `[{"n":"gate","vs":"shut"}]`, 0},
		{"senml number for a switch", Input{Want: aSwitch}, `[{"n":"gate","v":1}]`, 1},
		{"selector by number", Input{Want: aSelector}, "2", 2},
		{"selector at none", Input{Want: aSelector}, "0", 0},
		{"selector by name", Input{Want: aSelector}, "Sander", 2},
		{"selector by word", Input{Want: aSelector}, "none", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			rs, err := decoder(t, c.in).Decode("t", []byte(c.payload), now)
			require.NoError(t, err)
			require.Len(t, rs, 1)
			r := rs[0]
			assert.InDelta(t, c.want, r.Value, 1e-4, "SI")
			assert.Equal(t, "main/x", r.Channel)
			assert.Equal(t, now.Mono, r.Mono)
			assert.Equal(t, reading.Good, r.Quality)
			assert.Equal(t, 1, r.N)
			assert.True(t, math.IsNaN(r.SD))
		})
	}
}

// TestRFC8428Example resolves the example "Multiple Data Points" of RFC 8428, section 5.1.3: a voltage and six currents
// on one base time.
func TestRFC8428Example(t *testing.T) {
	pack := `[
		{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
		{"n":"current","t":-5,"v":1.2},
		{"n":"current","t":-4,"v":1.3},
		{"n":"current","t":-3,"v":1.4},
		{"n":"current","t":-2,"v":1.5},
		{"n":"current","t":-1,"v":1.6},
		{"n":"current","v":1.7}]`
	rs, err := resolve([]byte(pack))
	require.NoError(t, err)
	require.Len(t, rs, 7)
	assert.Equal(t, "urn:dev:ow:10e2073a0108006:voltage", rs[0].name)
	assert.Equal(t, "V", rs[0].raw.unit)
	assert.Equal(t, "A", rs[1].raw.unit)
	assert.InDelta(t, 1276020071.001, rs[1].at, 1e-4)
	assert.Equal(t, json.Number("1.2"), rs[1].raw.number)
	last, err := findRecord([]byte(pack), "urn:dev:ow:10e2073a0108006:current")
	require.NoError(t, err)
	assert.Equal(t, json.Number("1.7"), last.number)
}

func TestSwitchWords(t *testing.T) {
	d := decoder(t, Input{Want: aSwitch})
	for word, want := range map[string]float64{
		"1": 1, "open": 1, "Open": 1, "ON": 1, "true": 1, "1.0": 1,
		"0": 0, "shut": 0, "closed": 0, "OFF": 0, "false": 0,
	} {
		rs, err := d.Decode("t", []byte(word), now)
		require.NoError(t, err, word)
		assert.Equal(t, want, rs[0].Value, word)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name    string
		in      Input
		payload string
		want    string
	}{
		{"empty", Input{Want: pressure, Unit: "Pa"}, " \n", "empty"},
		{"nan", Input{Want: pressure, Unit: "Pa"}, "NaN", `"NaN" is not a number`},
		{"inf", Input{Want: pressure, Unit: "Pa"}, "-Inf", "is not a number"},
		{"hexadecimal", Input{Want: pressure, Unit: "Pa"}, "0x1p4", "is not a number"},
		{"digits with underscores", Input{Want: pressure, Unit: "Pa"}, "1_000", "is not a number"},
		{"too large for a float64", Input{Want: pressure, Unit: "Pa"}, "1e400", "cannot"},
		{"absurd", Input{Want: pressure, Unit: "Pa"}, "1e300", "outside -50000 to 50000"},
		{"wrong unit, as it seems", Input{Want: temperature, Unit: "K"}, "20.5", "outside 223.15 to 373.15"},
		{"two numbers", Input{Want: pressure, Unit: "Pa"}, "1 2", "is not a number"},
		{"only signs", Input{Want: pressure, Unit: "Pa"}, "-.e", "is not a number"},
		{"a word", Input{Want: pressure, Unit: "Pa"}, "unavailable", `"unavailable" is not a number`},
		{"an object, and no field named", Input{Want: pressure, Unit: "Pa"}, `{"dp":1}`, "name the key by field"},
		{"no such key", Input{Want: pressure, Unit: "Pa", Field: "dq"}, `{"dp":1}`, `no key "dq"`},
		{"null", Input{Want: pressure, Unit: "Pa", Field: "dp"}, `{"dp":null}`, "is not a number"},
		{"a list in the key", Input{Want: pressure, Unit: "Pa", Field: "dp"}, `{"dp":[1]}`, "not a value"},
		{"a field asked of a number", Input{Want: pressure, Unit: "Pa", Field: "dp"}, `7`, "no JSON object"},
		{"cut off", Input{Want: pressure, Unit: "Pa", Field: "dp"}, `{"dp":1`, "no valid JSON"},
		{"something behind", Input{Want: pressure, Unit: "Pa", Field: "dp"}, `{"dp":1}x`, "follows the value"},
		{"no unit anywhere", Input{Want: pressure}, "12", "what unit"},
		{"unit of another kind", Input{Want: pressure}, `[{"n":"t","u":"Cel","v":20}]`, "pressure"},
		{"position that is none", Input{Want: aSwitch}, "ajar", "is no position"},
		{"number that is no position", Input{Want: aSwitch}, "0.5", "is no position"},
		{"port that is none", Input{Want: aSelector}, "3", "is no port"},
		{"half a port", Input{Want: aSelector}, "1.5", "is no port"},
		{"negative port", Input{Want: aSelector}, "-1", "is no port"},
		{"name of no port", Input{Want: aSelector}, "planer", `there are ["router" "sander"]`},
		{"senml of two names", Input{Want: pressure}, `[{"n":"a","u":"Pa","v":1},{"n":"b","u":"Pa","v":1}]`, "name one by field"},
		{"senml without that name", Input{Want: pressure, Field: "c"}, `[{"n":"a","u":"Pa","v":1}]`, `named "c"`},
		{"senml without a value", Input{Want: pressure}, `[{"n":"a","u":"Pa","s":1}]`, "no value"},
		{"senml, empty", Input{Want: pressure}, `[]`, "no value"},
		{"senml of a later version", Input{Want: pressure}, `[{"bver":11,"n":"a","u":"Pa","v":1}]`, "version 11"},
		{"senml with what must be understood", Input{Want: pressure}, `[{"n":"a","u":"Pa","v":1,"x_":2}]`, "must be understood"},
		{"senml sum without end", Input{Want: pressure}, `[{"bv":1.7e308,"n":"a","u":"Pa","v":1.7e308}]`, "more than a number can hold"},
		{"senml time without end", Input{Want: pressure}, `[{"bt":1e999,"n":"a","u":"Pa","v":1}]`, "cannot"},
		{"senml record that is none", Input{Want: pressure}, `[1]`, "no valid JSON"},
		{"deeply nested", Input{Want: pressure, Unit: "Pa", Field: "a"}, `{"a":` + strings.Repeat("[", 2000) + strings.Repeat("]", 2000) + `}`, "not a value"},
		{"too long", Input{Want: pressure, Unit: "Pa"}, strings.Repeat("1", MaxPayload+1), "over 4096 bytes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			rs, err := decoder(t, c.in).Decode("t", []byte(c.payload), now)
			assert.Empty(t, rs)
			var r *Refusal
			require.True(t, errors.As(err, &r), "%v", err)
			assert.Equal(t, "main/x", r.Channel)
			assert.ErrorContains(t, err, strings.ReplaceAll(c.want, "cannot", "is not a number that can be held"))
			assert.ErrorContains(t, err, `main/x: message on topic "t"`)
			assert.Less(t, len(err.Error()), 400, "a message must not repeat a whole payload")
		})
	}
}

func TestAge(t *testing.T) {
	unset := Stamp{Mono: time.Hour}
	kept := Stamp{Mono: time.Hour, Time: noon, Retained: true}
	keptUnset := Stamp{Mono: time.Hour, Retained: true}
	senml := func(seconds string) string { return `[{"n":"dp","u":"Pa","v":1,"t":` + seconds + `}]` }
	for _, c := range []struct {
		name    string
		payload string
		at      Stamp
		want    time.Time
		err     error
	}{
		{"no time of its own", `[{"n":"dp","u":"Pa","v":1}]`, now, noon, nil},
		{"no time at all", `[{"n":"dp","u":"Pa","v":1}]`, unset, time.Time{}, nil},
		{"ten seconds old", senml("1699999990"), now, noon.Add(-10 * time.Second), nil},
		{"31 seconds old", senml("1699999969"), now, time.Time{}, ErrOld},
		{"ten seconds before now", senml("-10"), now, noon.Add(-10 * time.Second), nil},
		{"31 seconds before now", senml("-31"), now, time.Time{}, ErrOld},
		{"31 seconds before now, board's clock not set", senml("-31"), unset, time.Time{}, ErrOld},
		{"ten seconds before now, board's clock not set", senml("-10"), unset, time.Time{}, nil},
		{"own time, and the board's clock not set", senml("1600000000"), unset, time.Time{}, nil},
		{"a second ahead", senml("1700000001"), now, noon, nil},
		{"an hour ahead: clocks that disagree", senml("1700003600"), now, noon, nil},
		{"kept, no time", `[{"n":"dp","u":"Pa","v":1}]`, kept, time.Time{}, ErrAge},
		{"kept, time from when it was sent", senml("-1"), kept, time.Time{}, ErrAge},
		{"kept, ten seconds old", senml("1699999990"), kept, noon.Add(-10 * time.Second), nil},
		{"kept, old", senml("1690000000"), kept, time.Time{}, ErrOld},
		{"kept, an hour ahead", senml("1700003600"), kept, time.Time{}, ErrAge},
		{"kept, and the board's clock not set", senml("1699999990"), keptUnset, time.Time{}, ErrAge},
		{"kept plain number", "1", kept, time.Time{}, ErrAge},
		{"years without end", senml("1e300"), now, noon, nil},
		{"years without end, before", senml("-1e300"), now, time.Time{}, ErrOld},
	} {
		t.Run(c.name, func(t *testing.T) {
			rs, err := decoder(t, Input{Want: pressure, Unit: "Pa"}).Decode("t", []byte(c.payload), c.at)
			if c.err != nil {
				require.ErrorIs(t, err, c.err)
				assert.Empty(t, rs)
				return
			}
			require.NoError(t, err)
			assert.True(t, c.want.Equal(rs[0].Time), "label %s, want %s", rs[0].Time, c.want)
			assert.Equal(t, time.Hour, rs[0].Mono, "the order is that of arrival")
		})
	}
}

// TestSharedTopic: one message can be readings of several channels, and a bad one of them spoils no other.
func TestSharedTopic(t *testing.T) {
	d, err := NewDecoder([]Input{
		{Channel: "main/t", Topic: "room", Field: "t", Unit: "degC", Stale: time.Minute, Want: temperature},
		{Channel: "main/p", Topic: "room", Field: "p", Unit: "hPa", Stale: time.Minute, Want: Want{Kind: quantity.Pressure, Low: 30e3, High: 120e3}},
		{Channel: "main/h", Topic: "room", Field: "h", Unit: "%", Stale: time.Minute, Want: humidity},
	})
	require.NoError(t, err)
	assert.Equal(t, []string{"room"}, d.Topics())
	rs, err := d.Decode("room", []byte(`{"t":20,"p":-1,"h":50}`), now)
	require.Len(t, rs, 2)
	assert.Equal(t, "main/t", rs[0].Channel)
	assert.Equal(t, "main/h", rs[1].Channel)
	assert.ErrorContains(t, err, "main/p")
	assert.NotContains(t, err.Error(), "main/t")
	rs, err = d.Decode("elsewhere", []byte("1"), now)
	assert.NoError(t, err)
	assert.Empty(t, rs)
}

func TestNewDecoderReportsEveryMistake(t *testing.T) {
	_, err := NewDecoder([]Input{
		{Channel: "a", Topic: "x/+", Want: aSwitch},
		{Channel: "b", Want: aSwitch},
		{Channel: "c", Topic: "t", Unit: "furlong", Want: pressure},
		{Channel: "d", Topic: "t", Want: aSwitch},
	})
	require.Error(t, err)
	for _, want := range []string{"a: topic", "b: topic: is empty", `unknown unit "furlong"`} {
		assert.ErrorContains(t, err, want)
	}
	assert.NotContains(t, err.Error(), "d:")
}

// TestRoundTrip: whatever pressure is published in any of the four forms is read as that.
func TestRoundTrip(t *testing.T) {
	plainIn, fieldIn := decoder(t, Input{Want: pressure, Unit: "Pa"}), decoder(t, Input{Want: pressure, Unit: "Pa", Field: "dp"})
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-50e3, 50e3).Draw(t, "v")
		text := strconv.FormatFloat(v, 'g', -1, 64)
		for form, d := range map[string]*Decoder{text: plainIn, `{"dp":` + text + `}`: fieldIn, `[{"n":"x","v":` + text + `}]`: plainIn} {
			rs, err := d.Decode("t", []byte(form), now)
			if err != nil || rs[0].Value != v {
				t.Fatalf("%s: %v %v", form, rs, err)
			}
		}
	})
}

func FuzzDecode(f *testing.F) {
	for _, s := range []string{"1", "-12.5e1", "open", `"on"`, `{"dp":1}`, `{"a":{"b":2}}`, `[{"n":"dp","u":"Pa","v":1,"t":-3}]`,
		`[{"bn":"x","bt":1.7e9,"bver":10,"bv":3},{"vb":true}]`, "NaN", "1e999", "[[[[", `{"a.b":null}`, "\xff\xfe", ""} {
		for _, field := range []string{"", "dp", "a.b"} {
			f.Add([]byte(s), field, false)
			f.Add([]byte(s), field, true)
		}
	}
	f.Fuzz(func(t *testing.T, payload []byte, field string, retained bool) {
		for _, w := range []Want{pressure, temperature, aSwitch, aSelector} {
			in := Input{Channel: "main/x", Topic: "t", Field: field, Stale: time.Minute, Want: w}
			if w.Kind == quantity.Pressure && !w.Switch && w.Ports == nil {
				in.Unit = "Pa"
			}
			d, err := NewDecoder([]Input{in})
			require.NoError(t, err)
			rs, err := d.Decode("t", payload, Stamp{Mono: time.Hour, Time: noon, Retained: retained})
			require.Equal(t, err == nil, len(rs) == 1)
			if err != nil {
				continue
			}
			v := rs[0].Value
			switch {
			case w.Switch:
				require.True(t, v == 0 || v == 1)
			case w.Ports != nil:
				require.Contains(t, []float64{0, 1, 2}, v)
			default:
				require.True(t, v >= w.Low && v <= w.High, "%g", v)
			}
			require.False(t, rs[0].Time.After(noon))
			require.False(t, rs[0].Time.Before(noon.Add(-time.Minute)))
		}
	})
}

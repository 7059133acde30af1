package daemon

import (
	"encoding/json"
	"math"
	"strings"
	"time"
	"unicode"

	"ductward/internal/estimate"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// record of SenML JSON, RFC 8428 section 4. Unknown values are left out, since the format has no null.
type senml struct {
	BaseName string   `json:"bn,omitempty"`
	BaseTime *float64 `json:"bt,omitempty"`
	Name     string   `json:"n,omitempty"`
	Time     *float64 `json:"t,omitempty"`
	Unit     string   `json:"u,omitempty"`
	Value    *float64 `json:"v,omitempty"`
	Bool     *bool    `json:"vb,omitempty"`
	String   string   `json:"vs,omitempty"`
}

// seconds returns a time as SenML has it, to the millisecond. A time that is not known is left out, which RFC 8428
// section 4.5.3 reads as about now.
func seconds(t time.Time) *float64 {
	if t.IsZero() {
		return nil
	}
	s := float64(t.UnixMilli()) / 1000
	return &s
}

// senmlUnit returns the unit of a quantity in the registry of RFC 8428 section 12.1, and the factor on the SI value.
func senmlUnit(q shop.Quantity) (unit string, factor float64) {
	switch q {
	case shop.AirTemperature:
		return "K", 1
	case shop.RelativeHumidity:
		return "%RH", 100
	case shop.FanPower:
		return "W", 1
	case shop.FanSpeed:
		return "Hz", 1
	case shop.BinWeight:
		return "kg", 1
	default:
		return "Pa", 1
	}
}

// senmlSwitch is the record of a switch: a gate, a contact or a fan is true or false, a selector a number, and one that stands
// nobody knows where is a word.
func senmlSwitch(name string, v float64, at time.Time) senml {
	r := senml{Name: name, Time: seconds(at)}
	switch {
	case math.IsNaN(v):
		r.String = "unknown"
	case strings.HasPrefix(name, "selector/") || strings.Contains(name, "/selector/"):
		r.Value = &v
	default:
		on := v != 0
		r.Bool = &on
	}
	return r
}

// senmlQuality is the record of how far a value can be trusted, in the word of the readings' CSV.
func senmlQuality(name string, q reading.Quality) senml {
	return senml{Name: name + "/quality", String: q.String()}
}

// senmlNumber is a record of a number that counts, and measures nothing.
func senmlNumber(name string, v float64) senml { return senml{Name: name, Value: &v} }

// senmlEstimate is the pack of what is estimated now of one collector; nil where nothing is known. Each value is
// followed by its standard error.
func senmlEstimate(base string, now *estimate.Now) []senml {
	var pack []senml
	add := func(name, unit string, v estimate.Value) {
		if math.IsNaN(v.V) || math.IsInf(v.V, 0) {
			return
		}
		pack = append(pack, senml{Name: name, Unit: unit, Value: &v.V})
		if !math.IsNaN(v.SE) && !math.IsInf(v.SE, 0) {
			pack = append(pack, senml{Name: name + "-se", Unit: unit, Value: &v.SE})
		}
	}
	add("flow", "m3/s", now.Flow)
	add("filter-resistance-ratio", "/", now.Filter)
	add("new-leakage", "m3/s", now.Leakage)
	for _, m := range now.Machines {
		if m.Open {
			add("machine/"+level(m.Machine)+"/flow", "m3/s", m.Flow)
		}
	}
	if len(pack) > 0 {
		pack[0].BaseName, pack[0].BaseTime = base+"/", seconds(now.At)
	}
	return pack
}

// packJSON encodes records, all of whose numbers are finite.
func packJSON(pack ...senml) []byte {
	data, err := json.Marshal(pack)
	if err != nil { // a number that is not finite got past the checks above
		panic("senml: " + err.Error())
	}
	return data
}

// level makes one level of a topic, and of a SenML name, of a name from the shop file: lower case, a dash for what
// either may not hold. RFC 8428 section 4.5.1 allows letters, digits and "-:./_".
func level(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(strings.TrimSpace(name)) {
		if plain := asASCII(r); plain != "" {
			b.WriteString(plain)
		} else if !strings.HasSuffix(b.String(), "-") {
			b.WriteByte('-')
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s
	}
	return "-"
}

// asASCII spells a letter or digit in ASCII; "" for what has no place in a topic.
func asASCII(r rune) string {
	switch {
	case r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r)), r == '_', r == '.', r == ':':
		return string(r)
	}
	return spelled[r]
}

// spelled holds the letters that shops' names are likely to have besides ASCII.
var spelled = map[rune]string{'ä': "ae", 'ö': "oe", 'ü': "ue", 'ß': "ss", 'å': "aa", 'æ': "ae", 'ø': "oe", 'é': "e",
	'è': "e", 'ê': "e", 'ë': "e", 'á': "a", 'à': "a", 'â': "a", 'ç': "c", 'ñ': "n", 'í': "i", 'ï': "i", 'ó': "o",
	'ô': "o", 'ú': "u", 'ő': "oe", 'ű': "ue"}

// topic joins levels; a level that is a path itself ("collector/sensor") keeps its slashes.
func topic(levels ...string) string {
	var out []string
	for _, l := range levels {
		for part := range strings.SplitSeq(l, "/") {
			out = append(out, level(part))
		}
	}
	return strings.Join(out, "/")
}

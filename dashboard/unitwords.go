package dashboard

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"ductward/internal/estimate"
)

// stated finds a quantity in a sentence that the watch wrote in metric units: a number, perhaps with its standard error or
// with a lower one before it, and a unit.
var stated = regexp.MustCompile(`(?:between ([-−]?(?:` + digits + `)) and )?([-−]?(?:` + digits + `))(?: ± ((?:` + digits + `)))?[ \x{00a0}]((?:m³/h|m3/h|m³/s|m3/s|kPa|Pa|m/s|mm2|cm2)\b|mm²|cm²)`)

// digits is a number as it is written for people: with spaces between thousands.
const digits = `\d{1,3}(?:[ \x{00a0}\x{202f}]\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?`

// toSI are the metric units of sentences, in SI.
var toSI = map[string]float64{"m³/h": 1.0 / 3600, "m3/h": 1.0 / 3600, "m³/s": 1, "m3/s": 1, "kPa": 1000, "Pa": 1, "m/s": 1, "mm²": 1e-6, "mm2": 1e-6, "cm²": 1e-4, "cm2": 1e-4}

// words writes the quantities of a sentence in the units that are shown. The watch's own sentences are metric, and are kept
// as they were said.
func (u units) words(text string) string {
	if u.system == metricUnits.system {
		return text
	}
	return stated.ReplaceAllStringFunc(text, func(found string) string {
		m := stated.FindStringSubmatch(found)
		v, _ := number(m[2]) // the pattern lets only numbers through
		factor, out, low := toSI[m[4]], u.scaleOf(m[4]), ""
		if least, ok := number(m[1]); ok {
			low = "between " + asFine(least*factor*out.factor, m[1]) + " and "
		}
		if se, ok := number(m[3]); ok {
			return low + out.in(estimate.Value{V: v * factor, SE: se * factor})
		}
		return low + join(asFine(v*factor*out.factor, m[2]), out.unit)
	})
}

// asFine writes a number in as many digits as another was written in: two or three, since one of each is rounded already.
func asFine(v float64, like string) string {
	n := 0
	for _, r := range strings.TrimLeft(strings.ReplaceAll(like, ".", ""), "-−0") {
		if r >= '0' && r <= '9' {
			n++
		}
	}
	if v == 0 {
		return "0"
	}
	return fixed(v, min(max(n, 2), 3)-1-int(math.Floor(math.Log10(math.Abs(v)))))
}

// number reads a number as it is written for people.
func number(text string) (float64, bool) {
	text = strings.NewReplacer(" ", "", "\u00a0", "", "\u202f", "", "−", "-").Replace(text)
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}

// scaleOf is what a metric unit is shown in.
func (u units) scaleOf(unit string) scale {
	switch unit {
	case "Pa", "kPa":
		return u.pressure
	case "m/s":
		return u.velocity
	case "mm²", "mm2", "cm²", "cm2":
		return u.opening
	}
	return u.flow
}

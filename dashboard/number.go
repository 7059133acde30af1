package dashboard

import (
	"math"
	"strconv"
	"strings"

	"ductward/internal/estimate"
	"ductward/internal/quantity"
)

// ninety turns a standard error into the half-width that holds the true value nine times out of ten, if the error is
// normal: Φ⁻¹(0.95). Verdicts and doubled edges are drawn there. A "±" is one standard error, as everywhere in the tool,
// and each page's foot says so.
const ninety = 1.6448536269514722

// Factors from SI to what a screen shows. Each is exact by definition.
const (
	hour     = 3600 // s: m³/s to m³/h
	squareMM = 1e6  // m² to mm²
)

// unknown stands wherever a number is not known: never 0, never an empty cell.
const unknown = quantity.NotKnown

// spread writes v with its standard error, in as many digits as that supports: "850 ± 24 m³/h".
func spread(v, se, factor float64, unit string) string {
	if !known(v) {
		return unknown
	}
	return join(minus(quantity.Digits(v*factor, se*factor)), unit)
}

// rounded writes v alone, in as many digits as its spread supports: for large type, where the spread stands below.
func rounded(v estimate.Value, factor float64) string {
	if !known(v.V) {
		return unknown
	}
	number, _, _ := strings.Cut(quantity.Digits(v.V*factor, v.SE*factor), " ± ")
	return minus(number)
}

// plain writes a number whose spread is not known, to three digits.
func plain(v float64) string { return minus(quantity.Digits(v, math.NaN())) }

// decimals is the number of decimals (negative: tens, hundreds) that a half-width supports, by the same rule as
// quantity.Digits: to its first digit, or one more where that is 1 or 2.
func decimals(half float64) int {
	if !known(half) || half <= 0 {
		return 3
	}
	text := strconv.FormatFloat(half, 'e', 1, 64)
	e, err := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:])
	if err != nil {
		return 3 // cannot happen: strconv wrote it
	}
	if text[0] == '1' || text[0] == '2' {
		e--
	}
	return -e
}

// fixed writes v with d decimals (negative d: rounded to tens, hundreds …).
func fixed(v float64, d int) string {
	r := roundTo(v, d)
	text := strconv.FormatFloat(math.Abs(r), 'f', max(d, 0), 64)
	whole, fraction, point := strings.Cut(text, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "\u00a0" + whole[i:]
	}
	if point {
		whole += "." + fraction
	}
	if r < 0 {
		return "−" + whole
	}
	return whole
}

// roundTo rounds v to d decimals and never gives a negative zero.
func roundTo(v float64, d int) float64 {
	p := math.Pow(10, float64(d))
	r := math.Round(v*p) / p
	if r == 0 {
		return 0
	}
	return r
}

// minus sets a true minus sign.
func minus(text string) string { return strings.Replace(text, "-", "−", 1) }

// join puts a unit behind a number with a space that does not break.
func join(number, unit string) string {
	if unit == "" {
		return number
	}
	return number + "\u00a0" + unit
}

// percent is a share with its spread.
func percent(v estimate.Value) string { return spread(v.V, v.SE, 100, "%") }

// known tells whether a number is one.
func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

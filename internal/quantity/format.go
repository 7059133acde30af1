package quantity

import (
	"math"
	"strconv"
	"strings"
)

// NotKnown is what is printed in place of a number that is not known.
const NotKnown = "not known"

// usual is the number of significant digits of a number whose spread is not told.
const usual = 3

// Format writes an SI number in the unit with three significant digits, as in "1 240 m3/h" or "0.0523 m3/s". NaN is
// "not known". A unit that the kind does not have yields the SI number with the kind's example unit refused in words,
// so that a slip shows and nothing false is printed.
func Format(kind Kind, v float64, unit string) string {
	x, err := FromSI(kind, unit, v)
	if err != nil {
		return err.Error()
	}
	if !finite(x) {
		return NotKnown
	}
	return join(group(significant(x, usual)), unit)
}

// FormatSpread writes an SI number with its standard deviation in the unit, as in "1 240 ± 30 m3/h". The spread has
// one significant digit, or two where its first is 1 or 2 (so that rounding changes it by less than a fifth), and the
// value ends at the same digit. With an unknown spread the value is written as "about 1 240 m3/h".
func FormatSpread(kind Kind, v, sd float64, unit string) string {
	x, err := FromSI(kind, unit, v)
	if err != nil {
		return err.Error()
	}
	s, _ := SpreadFromSI(kind, unit, sd)
	switch {
	case !finite(x):
		return NotKnown
	case !finite(s) || s < 0:
		return "about " + Format(kind, v, unit)
	case s == 0:
		return Format(kind, v, unit)
	}
	place := lastPlace(s)
	return join(group(rounded(x, place))+" ± "+group(rounded(s, place)), unit)
}

// Digits rounds a number and its spread alike for printing without a unit, as in "1.24 ± 0.03".
func Digits(v, sd float64) string {
	if !finite(v) {
		return NotKnown
	}
	if !finite(sd) || sd <= 0 {
		return group(significant(v, usual))
	}
	place := lastPlace(sd)
	return group(rounded(v, place)) + " ± " + group(rounded(sd, place))
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func join(number, unit string) string { return number + " " + unit }

// lastPlace is the power of ten of the last digit that a spread supports.
func lastPlace(sd float64) int {
	text := strconv.FormatFloat(sd, 'e', 1, 64) // d.de±dd, rounded
	if text[0] == '1' || text[0] == '2' {
		return exponent(text) - 1
	}
	return exponent(text)
}

func exponent(text string) int {
	e, err := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:])
	if err != nil {
		panic("quantity: strconv wrote the float " + text) // cannot happen: the format is fixed by strconv
	}
	return e
}

// rounded writes x rounded to the given power of ten.
func rounded(x float64, place int) string {
	if place < 0 {
		return unsigned(strconv.FormatFloat(x, 'f', -place, 64))
	}
	p := math.Pow10(place)
	return unsigned(strconv.FormatFloat(math.RoundToEven(x/p)*p, 'f', 0, 64))
}

// significant writes x with n significant digits and without an exponent.
func significant(x float64, n int) string {
	if x == 0 {
		return "0"
	}
	return rounded(x, exponent(strconv.FormatFloat(x, 'e', n-1, 64))-n+1)
}

// unsigned drops the sign of a number that is rounded to zero.
func unsigned(s string) string {
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}

// group puts no-break spaces between groups of three digits before the point.
func group(s string) string {
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	whole, fraction, point := strings.Cut(s, ".")
	var b strings.Builder
	b.WriteString(sign)
	for i, d := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteString("\u00a0")
		}
		b.WriteRune(d)
	}
	if point {
		b.WriteString("." + fraction)
	}
	return b.String()
}
